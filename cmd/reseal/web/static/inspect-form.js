// The form of one inspection: thumbs and gloves, with or without a link.
import * as store from "./field-store.js";
import {add, install, send, watch} from "./field-send.js";
import {fills, judge, leftFt, today, verdict} from "./field-judge.js";
import {number, read, say, write, wrong} from "./field-values.js";
import {Photos} from "./field-photo.js";

const page = JSON.parse(document.getElementById("form-data").textContent);
const form = document.getElementById("inspection");
const tag = page.joint.tag, key = page.joint.uid;
const gap = document.getElementById("reading").content.querySelector("[data-name=gap]");
const limits = {MaxGapIn: Number(gap.max), MinTempF: Number(form.dataset.mintemp), MaxTempF: Number(form.dataset.maxtemp)};
const PARTS = ["cs1", "cs2", "cs3", "cs4", "unseen"];
const readings = document.getElementById("readings");
let accepted = "";

const photos = new Photos(form, keepDraft);

// feetOf are the feet of one stretch as they are in the form.
function feetOf(n) {
  const v = part => number(form.elements[`${part}-${n}`].value) || 0;
  return {stretch: n, cs1_ft: v("cs1"), cs2_ft: v("cs2"), cs3_ft: v("cs3"), cs4_ft: v("cs4"), not_seen_ft: v("unseen")};
}

const touched = n => PARTS.some(part => form.elements[`${part}-${n}`].value !== "");

// entry is the form as the API takes it.
function entry() {
  const v = read(form), feet = v.mode === "feet";
  const e = {
    joint: tag, joint_uid: key, seen_id: page.seen_id, inspected_on: v.inspected_on, seen_from: v.seen_from,
    ...(v.leaking ? {leaking: v.leaking === "yes"} : {}), ...(v.notes.trim() ? {notes: v.notes.trim()} : {}),
    ...(v.access_limit.trim() ? {access_limit: v.access_limit.trim()} : {}),
  };
  if (feet) e.stretches = page.stretches.filter(t => touched(t.stretch)).map(t => feetOf(t.stretch));
  else if (v.worst) Object.assign(e, {quick: true, quick_worst: Number(v.worst)});
  e.defects = page.defects.filter(d => v[`defect-${d.defect}`]).map(d => {
    const from = number(v[`from-${d.defect}`]), to = number(v[`to-${d.defect}`]);
    return {defect: d.defect, state: Number(v[`defect-${d.defect}`]), ...(from === null ? {} : {from_ft: from}), ...(to === null ? {} : {to_ft: to})};
  });
  e.readings = rows().map(readingOf).filter(r => r);
  return e;
}

const rows = () => [...readings.children];

function readingOf(row) {
  const v = name => number(row.querySelector(`[data-name=${name}]`).value);
  const g = v("gap"), deck = v("deck"), air = v("air"), position = row.querySelector("[data-name=position]").value;
  if (g === null) return null;
  return {gap_in: g, ...(deck === null ? {} : {deck_temp_f: deck}), ...(air === null ? {} : {air_temp_f: air}), ...(position ? {position} : {})};
}

// showFeet draws the bar, which must fill the length, and says what is left.
function showFeet() {
  for (const set of form.querySelectorAll(".stretch")) {
    const n = Number(set.dataset.stretch), stretch = page.stretches[n - 1], feet = feetOf(n), left = leftFt(stretch, feet);
    const ft = [feet.cs1_ft, feet.cs2_ft, feet.cs3_ft, feet.cs4_ft, feet.not_seen_ft, Math.max(left || 0, 0)];
    set.querySelectorAll(".bar span").forEach((span, i) => { span.style.flexGrow = String(Math.max(ft[i], 0)); });
    const out = set.querySelector(".left"), r = v => Number(v.toFixed(2));
    out.classList.toggle("full", touched(n) && fills(stretch, left));
    out.classList.toggle("over", left !== null && left < 0 && !fills(stretch, left));
    out.textContent = left === null ? `${r(ft.reduce((a, b) => a + b, 0))} ft so far; the length is not on record`
      : Math.abs(left) < 0.005 ? "All feet are placed" : left > 0 ? `${r(left)} ft to place` : `${r(-left)} ft too many`;
  }
}

function showMode() {
  const quick = form.elements.mode.value === "quick";
  document.getElementById("quick").hidden = !quick;
  document.getElementById("feet").hidden = quick;
}

function showDefects() {
  for (const d of page.defects) {
    const state = form.elements[`defect-${d.defect}`].value, said = document.getElementById(`said-${d.defect}`);
    const chip = document.createElement("span");
    chip.className = `chip cs${state}`;
    chip.textContent = `CS${state}`;
    if (state) said.replaceChildren(chip);
    else said.textContent = d.last ? `last CS${d.last}` : "";
  }
}

function addReading() {
  const i = rows().length, row = document.getElementById("reading").content.cloneNode(true).firstElementChild;
  for (const field of row.querySelectorAll("[data-name]")) {
    field.id = field.name = `${field.dataset.name}-${i}`;
    row.querySelector(`[data-for=${field.dataset.name}]`).htmlFor = field.id;
  }
  row.querySelector(".wrong").id = `wrong-reading-${i}`;
  row.querySelectorAll(".step").forEach(b => { b.dataset.of = b.parentElement.querySelector("input").id; });
  readings.append(row);
  showBefore(row);
  return row;
}

// showBefore sets the last reading at the place beside the field.
function showBefore(row) {
  const position = row.querySelector("[data-name=position]").value, before = (page.readings || []).find(r => (r.position || "") === position);
  row.querySelector(".before").textContent = before ? `Last here: ${before.gap_in} in at ${before.deck_temp_f} °F on ${before.read_on}` : "";
}

const two = v => v.toFixed(2);
function showVerdict(row, v) {
  const p = row.querySelector(".verdict"), band = v.expected, o = page.opening, words = [];
  if (v.says === "as expected") words.push(`As expected: ${two(band.low_in)} to ${two(band.high_in)} in at ${band.temp_f} °F.`);
  else if (band) words.push(`${v.says[0].toUpperCase()}${v.says.slice(1)}: ${two(band.low_in)} to ${two(band.high_in)} in at ${band.temp_f} °F. Measure again.`);
  else if (v.says) words.push("Nothing on record to compare with.");
  else words.push("Give the deck's temperature: a gap without one says little.");
  if (o.max_in && v.gap_in > o.max_in) words.push(`Wider than the seal's largest opening, ${two(o.max_in)} in.`);
  if (o.max_in && v.gap_in < o.min_in) words.push(`Narrower than the seal's smallest opening, ${two(o.min_in)} in.`);
  say(p, words.join(" "));
  p.classList.toggle("good", words.length === 1 && v.says === "as expected");
}

// judgeReadings answers at once from what came with the form; then, where there
// is a link, with the opening check made anew.
let asked = 0, later;
function judgeReadings() {
  const given = [];
  for (const row of rows()) {
    showBefore(row);
    const r = readingOf(row);
    if (r) {
      given.push(r);
      showVerdict(row, verdict(page.opening, r));
    } else {
      say(row.querySelector(".verdict"), "");
    }
  }
  clearTimeout(later);
  const n = ++asked, check = document.getElementById("check");
  if (!given.some(r => r.deck_temp_f !== undefined || r.air_temp_f !== undefined)) {
    say(check, "");
    return;
  }
  later = setTimeout(async () => {
    try {
      const r = await fetch(`/api/joints/${tag}/verdict`, {method: "POST", headers: {"Content-Type": "application/json"}, body: JSON.stringify({on: form.elements.inspected_on.value, readings: given})});
      const v = await r.json();
      if (n !== asked) return;
      say(check, r.ok ? v.words : v.detail);
      check.classList.toggle("alarm", r.ok && v.needs_attention);
    } catch {
      if (n === asked) say(check, "The whole check follows when there is a link.");
    }
  }, 300);
}

let keeping = Promise.resolve(), finished = false;
function keepDraft() {
  if (finished) return;
  const draft = {tag, values: read(form), readings: rows().length, photos: [...photos.list], at: Date.now()};
  keeping = keeping.then(() => finished ? null : store.put("drafts", key, draft)).then(() => { form.dataset.kept = JSON.stringify({...draft.values, photos: draft.photos.length}); });
}

function showAll() {
  showMode();
  showFeet();
  showDefects();
  judgeReadings();
}

function changed() {
  accepted = "";
  document.getElementById("odd").hidden = true;
  wrong(form, []);
  showAll();
  keepDraft();
}

form.addEventListener("input", changed);
form.addEventListener("click", e => {
  const b = e.target.closest("button");
  if (!b || b.id === "save") return;
  if (b.dataset.step) {
    const field = document.getElementById(b.dataset.of), by = Number(b.dataset.step);
    field.value = String(Math.max(Number(((number(field.value) ?? start(field)) + by).toFixed(4)), field.dataset.name === "deck" ? -60 : 0));
  } else if (b.dataset.rest) {
    const field = document.getElementById(b.dataset.rest), n = Number(field.closest(".stretch").dataset.stretch);
    const left = leftFt(page.stretches[n - 1], feetOf(n));
    field.value = String(Math.max(Number(((number(field.value) || 0) + (left || 0)).toFixed(4)), 0));
  } else if (b.dataset.same) {
    const n = Number(b.dataset.same), last = page.stretches[n - 1].last;
    for (const [part, v] of [["cs1", last.cs1_ft], ["cs2", last.cs2_ft], ["cs3", last.cs3_ft], ["cs4", last.cs4_ft], ["unseen", last.not_seen_ft || 0]]) form.elements[`${part}-${n}`].value = String(Number(v.toFixed(2)));
  } else if (b.id === "add-reading") {
    addReading().querySelector("select").focus();
  } else {
    return;
  }
  changed();
});

// start is where the steps of an empty field begin: at the last reading.
function start(field) {
  const last = (page.readings || [])[0];
  if (field.dataset.name === "gap" && last) return last.gap_in;
  return field.dataset.name === "deck" ? 60 : 0;
}

form.addEventListener("submit", async e => {
  e.preventDefault();
  const body = entry(), {wrong: faults, odd} = judge(page, limits, body);
  wrong(form, faults);
  if (faults.length) return;
  if (odd.length && accepted !== odd.join()) {
    askAbout(odd);
    return;
  }
  if (odd.length) body.accept_odd = true;
  finished = true;
  await keeping;
  const back = {key, values: read(form), photos: photos.list, path: `/inspect/${tag}`};
  const uid = await add("inspections", `inspection of ${tag}`, body, photos.list, back);
  await store.drop("drafts", key);
  form.hidden = true;
  document.getElementById("draft").hidden = true;
  const answer = (await send())[uid];
  await showDone(answer);
});

// askAbout puts what is odd before the inspector, who looks again.
function askAbout(odd) {
  const box = document.getElementById("odd"), b = document.createElement("button");
  b.type = "button";
  b.id = "accept";
  b.textContent = "I looked again: it is right";
  b.addEventListener("click", () => {
    accepted = odd.join();
    form.requestSubmit();
  });
  const p = document.createElement("p");
  p.textContent = `Look again: ${odd.join("; ")}.`;
  box.replaceChildren(p, b);
  box.hidden = false;
  b.focus();
}

async function showDone(answer) {
  const box = document.getElementById("done"), p = document.createElement("p"), line = document.createElement("div");
  p.className = "lead";
  p.textContent = !answer ? "Kept on this phone. It is sent when there is a link." : answer.id ? "On record." : "Not on record yet: see above.";
  line.className = "row";
  const route = await store.get("notes", "route"), i = route?.joints.findIndex(j => j.tag === tag) ?? -1, next = i >= 0 ? route.joints[i + 1] : null;
  const link = (text, href, second) => Object.assign(document.createElement("a"), {textContent: text, href, className: second ? "button second" : "button big"});
  if (next) line.append(link(`Next: ${next.tag}, ${next.where}`, next.path, false));
  line.append(link("Back to the list", route?.path || "/inspect", true), link("Report a finding here", `/findings/new?joint=${tag}`, true));
  box.replaceChildren(p, line);
  box.dataset.kept = !answer ? "phone" : answer.id ? "record" : "asked";
  box.hidden = false;
  scrollTo(0, 0);
}

document.getElementById("drop-draft").addEventListener("click", async () => {
  await keeping;
  await store.drop("drafts", key);
  location.reload();
});

install();
form.elements.inspected_on.value = form.elements.inspected_on.max = today(); // the form may have been taken along days ago
const draft = await store.get("drafts", key);
if (draft) {
  const n = draft.readings ?? Object.keys(draft.values).filter(k => k.startsWith("gap-")).length;
  for (let i = 0; i < n; i++) addReading();
  write(form, draft.values);
  photos.set(draft.photos);
  document.getElementById("draft").hidden = false;
}
const route = await store.get("notes", "route");
if (route) document.getElementById("to-list").href = route.path;
showAll();
form.dataset.ready = "true";
await watch();
