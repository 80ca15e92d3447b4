// The list of due joints: what is drafted, waiting or sent; the route taken
// along; the nearest joint.
import * as store from "./field-store.js";
import {install, watch} from "./field-send.js";
import {offer} from "./field-near.js";

const links = [...document.querySelectorAll("a.due")];
const jointOf = a => ({
  tag: a.dataset.tag, path: a.getAttribute("href"), where: a.closest(".stop").querySelector("h2").textContent.trim(),
  ...(a.dataset.lon ? {lon: Number(a.dataset.lon), lat: Number(a.dataset.lat), place: a.querySelector(".what").textContent.trim()} : {}),
});

async function mark() {
  const drafts = new Map(await Promise.all((await store.keys("drafts")).map(async k => [(await store.get("drafts", k)).tag, true])));
  const queued = new Set((await store.all("queue")).filter(i => i.kind === "inspections").map(i => i.body.joint));
  for (const a of links) {
    const sent = await store.get("notes", `sent ${a.dataset.tag}`);
    const today = sent && new Date(sent.at).toDateString() === new Date().toDateString();
    a.querySelector(".status").textContent = queued.has(a.dataset.tag) ? "waiting to be sent" : drafts.has(a.dataset.tag) ? "draft on this phone" : today ? "sent today" : "";
  }
}

// takeAlong keeps this list and the form of each of its joints.
async function takeAlong() {
  const button = document.getElementById("take"), said = document.getElementById("taken"), bar = document.getElementById("taking");
  button.disabled = true;
  bar.hidden = false;
  const kept = await caches.open("reseal-forms");
  let n = 0, failed = 0;
  const paths = [location.pathname + location.search, "/findings/new", ...links.map(a => a.getAttribute("href"))];
  const take = async () => {
    for (let path; (path = paths.shift());) {
      try {
        const r = await fetch(path);
        if (!r.ok) throw new TypeError(path);
        await kept.put(path, r);
      } catch {
        failed++;
      }
      bar.value = ++n;
    }
  };
  await Promise.all([take(), take(), take()]);
  await store.put("notes", "taken", {at: Date.now(), path: location.pathname + location.search, forms: links.length - failed});
  button.disabled = false;
  bar.hidden = true;
  said.textContent = failed ? `${failed} pages could not be taken along. Try again where the link is better.` : `All ${links.length} forms are on this phone.`;
  said.dataset.done = String(failed === 0);
}

install();
const list = document.getElementById("stops");
if (list) {
  await store.put("notes", "route", {name: list.dataset.route, path: location.pathname + location.search, joints: links.map(jointOf)});
  document.getElementById("take")?.addEventListener("click", takeAlong);
  const taken = await store.get("notes", "taken");
  if (taken?.path === location.pathname + location.search) {
    document.getElementById("taken").textContent = `${taken.forms} forms are on this phone since ${new Date(taken.at).toLocaleString([], {dateStyle: "medium", timeStyle: "short"})}.`;
  }
}
offer(j => Object.assign(document.createElement("a"), {href: `/inspect/${j.tag}`, className: "button second"}));
await mark();
await watch();
await mark();
document.body.dataset.ready = "true";
