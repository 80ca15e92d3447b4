// The map page: the network by one scale, a list beside it, a selection.
import {addBackground, addOutlines, networkStyle, repaint, replaceNetwork, showSelection} from "./map-style.js";
import {draw} from "./map-draw.js";

const byID = id => document.getElementById(id);
const box = byID("map"), note = byID("map-note"), card = byID("map-card"), list = byID("map-list");
const {maplibregl} = window;
maplibregl.setWorkerUrl(new URL(box.dataset.worker, location).href);

const jointZoom = +box.dataset.jointZoom;
const state = {by: byID("map-by").value, area: null};
const legend = () => document.querySelector(`.legend[data-scale="${state.by}"]`);
const classes = () => [...legend().querySelectorAll("input")];
const shades = () => classes().map(i => +i.dataset.shade);
const hidden = () => classes().filter(i => !i.checked).map(i => +i.value);
const tiles = () => `${location.origin}/tiles/${state.by}/{z}/{x}/{y}.mvt?v=${box.dataset.mark}&off=${hidden().join()}`;

function startView(q) {
  const at = (q.get("at") || "").split(",").map(Number);
  if (at.length === 3 && at.every(Number.isFinite)) return {center: [at[1], at[0]], zoom: at[2]};
  const [w, s, e, n] = box.dataset.bounds.split(",").map(Number);
  if (w === 0 && s === 0 && e === 0 && n === 0) return {center: [-98, 39], zoom: 3.5};
  return {bounds: [[w, s], [e, n]], fitBoundsOptions: {padding: {top: 40, left: 40, right: 40, bottom: 80}, maxZoom: 15}};
}

const asked = new URLSearchParams(location.search);
const ringOf = text => { const n = text.split(",").map(Number), ring = []; for (let i = 0; i + 1 < n.length; i += 2) ring.push([n[i], n[i + 1]]); return ring; };
if (asked.get("area")) state.area = ringOf(asked.get("area"));

const map = new maplibregl.Map({
  container: box, style: networkStyle(tiles(), +box.dataset.maxZoom, jointZoom, shades()), attributionControl: false, fadeDuration: 0, dragRotate: false, pitchWithRotate: false, touchPitch: false,
  renderWorldCopies: false, maxZoom: 20, ...startView(asked),
});
box.map = map; // for tests and for the curious
map.touchZoomRotate.disableRotation();
map.keyboard.disableRotation();
map.addControl(new maplibregl.NavigationControl({showCompass: false}), "top-right");
map.addControl(new maplibregl.ScaleControl({unit: "imperial"}), "bottom-right");
map.getCanvas().setAttribute("aria-label", "Map of all joints: arrow keys move it, plus and minus zoom. The list beside it holds the same joints.");

map.on("load", () => { // all of the network is drawn
  performance.mark("map-drawn");
  note.textContent = "";
  map.once("idle", behind);
  changedArea();
  if (box.dataset.joint) showJoint(box.dataset.joint);
  refresh();
});
map.on("error", e => { note.textContent = "A part of the map could not be loaded: " + e.error.message; });

// behind adds what lies behind the network once the network is there.
async function behind() {
  const first = () => map.getStyle().layers.find(l => l.source && ["network", "selection"].includes(l.source)).id;
  try {
    if (box.dataset.background) return await addBackground(map, box.dataset.background, box.dataset.archive, first);
    const r = await fetch(box.dataset.outlines);
    addOutlines(map, await r.json(), first);
  } catch (e) {
    note.textContent = "The background could not be loaded: " + e.message;
  }
}

// The address holds the view, so that it can be sent to a colleague.
function query() {
  const q = new URLSearchParams({by: state.by});
  if (hidden().length) q.set("off", hidden().join());
  if (state.area) q.set("area", state.area.flat().map(v => v.toFixed(5)).join());
  return q;
}

function keepAddress() {
  const q = query(), c = map.getCenter();
  q.set("at", `${c.lat.toFixed(5)},${c.lng.toFixed(5)},${map.getZoom().toFixed(2)}`);
  for (const link of document.querySelectorAll("[data-action]")) link.href = link.dataset.action + "?" + query();
  history.replaceState(null, "", "/map?" + q.toString().replaceAll("%2C", ","));
}

// The list of what is in view, or selected.
let asking = new AbortController(), waiting = 0;
function refresh() {
  list.setAttribute("aria-busy", "true");
  clearTimeout(waiting);
  waiting = setTimeout(readList, 200);
}

async function readList() {
  keepAddress();
  asking.abort();
  asking = new AbortController();
  const q = query();
  if (!state.area) { const b = map.getBounds(); q.set("box", [b.getWest(), b.getSouth(), b.getEast(), b.getNorth()].map(v => v.toFixed(5)).join()); }
  try {
    const r = await fetch("/map/list?" + q, {signal: asking.signal});
    if (!r.ok) throw new Error(r.statusText);
    list.innerHTML = await r.text();
    const counts = list.firstElementChild.dataset.counts.split(",");
    classes().forEach((input, i) => { input.closest("label").querySelector(".number").textContent = Number(counts[i]).toLocaleString("en-US"); });
    if (state.area) {
      const n = classes().reduce((sum, c, i) => sum + (c.checked ? +counts[i] : 0), 0);
      byID("map-selected-count").textContent = n.toLocaleString("en-US") + (n === 1 ? " joint" : " joints");
    }
    list.setAttribute("aria-busy", "false");
  } catch (e) {
    if (e.name !== "AbortError") note.textContent = "The list could not be loaded: " + e.message;
  }
}
map.on("moveend", refresh);

// Scale and classes.
function otherTiles() {
  if (map.getLayer("bridges")) replaceNetwork(map, tiles(), +box.dataset.maxZoom, jointZoom, shades());
  else map.once("load", otherTiles);
  refresh();
}
byID("map-by").addEventListener("change", e => {
  legend().hidden = true;
  state.by = e.target.value;
  legend().hidden = false;
  otherTiles();
});
byID("map-look").addEventListener("change", e => {
  if (e.target.type !== "checkbox") return;
  otherTiles();
});
matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => repaint(map, shades()));

// The card of a joint or a bridge.
async function showCard(what) {
  const r = await fetch("/map/card?" + new URLSearchParams({by: state.by, ...what}));
  if (!r.ok) { note.textContent = "It could not be loaded: " + r.statusText; return; }
  card.innerHTML = await r.text();
  card.hidden = false;
  card.querySelector("h2").focus({preventScroll: true});
}
function closeCard() {
  card.hidden = true;
  map.getCanvas().focus({preventScroll: true});
}
card.addEventListener("click", e => { if (e.target.closest(".close")) closeCard(); });
card.addEventListener("keydown", e => { if (e.key === "Escape") closeCard(); });

// show goes to the place that an element names and opens its card.
function show(el, zoom) {
  const [lng, lat] = el.dataset.at.split(",").map(Number);
  const narrow = matchMedia("(max-width: 60rem)").matches; // the card covers the lower part
  map.easeTo({center: [lng, lat], zoom: Math.max(map.getZoom(), zoom), duration: 400, offset: [0, narrow ? -0.36 * box.clientHeight : 0]});
  if (el.dataset.joint) showCard({joint: el.dataset.joint});
  else if (el.dataset.bridge) showCard({bridge: el.dataset.bridge});
  if (narrow) box.scrollIntoView({block: "start"});
}
async function showJoint(tag) {
  const r = await fetch("/map/find?" + new URLSearchParams({text: tag}));
  const hit = new DOMParser().parseFromString(await r.text(), "text/html").querySelector("[data-joint]");
  if (hit) show(hit, 16);
}
document.addEventListener("click", e => {
  const el = e.target.closest("[data-at]");
  if (!el) return;
  e.preventDefault();
  show(el, +el.dataset.zoom || 16);
});

const reach = 8; // pixels around the pointer
map.on("click", e => {
  const around = [[e.point.x - reach, e.point.y - reach], [e.point.x + reach, e.point.y + reach]];
  const found = map.queryRenderedFeatures(around, {layers: ["joints", "bridges"]})[0];
  if (!found) { card.hidden = true; return; }
  if (found.layer.id === "joints") showCard({joint: found.properties.tag});
  else if (found.id) showCard({bridge: found.id});
  else map.easeTo({center: found.geometry.coordinates, zoom: Math.min(map.getZoom() + 2, jointZoom), duration: 400});
});
for (const id of ["joints", "bridges"]) {
  map.on("mouseenter", id, () => { map.getCanvas().style.cursor = "pointer"; });
  map.on("mouseleave", id, () => { map.getCanvas().style.cursor = ""; });
}

// Search.
byID("map-find").addEventListener("submit", async e => {
  e.preventDefault();
  const r = await fetch("/map/find?" + new URLSearchParams({text: byID("map-text").value}));
  byID("map-hits").innerHTML = r.ok ? await r.text() : "";
  const all = byID("map-hits").querySelectorAll("[data-at]");
  if (all.length === 1) show(all[0], 16);
});

// Selection.
let drawing = null;
document.querySelector(".map-page").addEventListener("click", async e => {
  const button = e.target.closest("[data-tool]");
  if (!button) return;
  const tool = button.dataset.tool;
  const again = drawing && drawing.tool === tool;
  if (drawing) drawing.abort();
  if (tool === "clear") { state.area = null; return changedArea(); }
  if (tool === "view") {
    const b = map.getBounds();
    state.area = [[b.getWest(), b.getNorth()], [b.getEast(), b.getNorth()], [b.getEast(), b.getSouth()], [b.getWest(), b.getSouth()]];
    return changedArea();
  }
  if (again) return;
  drawing = new AbortController();
  drawing.tool = tool;
  const mine = drawing;
  button.setAttribute("aria-pressed", "true");
  note.textContent = tool === "box" ? "Draw a box over the map. Escape gives up." : "Draw around the joints. Escape gives up.";
  const ring = await draw(byID("map-draw"), tool, drawing.signal);
  button.setAttribute("aria-pressed", "false");
  if (drawing === mine) { drawing = null; note.textContent = ""; }
  if (ring) { state.area = ring.map(p => map.unproject(p).toArray()); changedArea(); }
});

function changedArea() {
  showSelection(map, state.area);
  byID("map-selected").hidden = !state.area;
  keepAddress();
  refresh();
}
