// The queue of entries on the phone: sent when there is a link, each under its
// uid, so that one whose answer was lost is not kept twice.
import * as store from "./field-store.js";

const RETRY_MS = 20000;
let show = () => {};

// add puts an entry in the queue. kind is inspections or findings; back is what
// brings its form back, should it have to be changed.
export async function add(kind, title, body, photos, back) {
  const uid = crypto.randomUUID();
  await store.put("queue", uid, {uid, kind, title, body: {...body, uid}, photos, back, at: Date.now(), state: "waiting"});
  return uid;
}

// send tries all that waits, one after the other, in one tab at a time, and
// returns what became of each, by uid: the answer, or the item that asks.
export async function send() {
  const outcome = {};
  await navigator.locks.request("reseal-send", async () => {
    const items = (await store.all("queue")).filter(i => i.state === "waiting").sort((a, b) => a.at - b.at);
    for (const item of items) {
      const answer = await sendOne(item);
      if (!answer) break; // no link
      outcome[item.uid] = answer;
    }
  });
  show();
  return outcome;
}

async function sendOne(item) {
  try {
    while (item.photos?.length) {
      const r = await fetch("/api/photos", {method: "POST", body: item.photos[0]});
      if (r.status >= 500) return null;
      if (!r.ok) return await ask(item, await r.json());
      item.body.photos = [item.body.photos, (await r.json()).name].filter(Boolean).join("\n");
      item.photos = item.photos.slice(1);
      await store.put("queue", item.uid, item);
    }
    const r = await fetch(`/api/${item.kind}`, {method: "POST", headers: {"Content-Type": "application/json"}, body: JSON.stringify(item.body)});
    if (r.status >= 500) return null;
    const answer = await r.json();
    if (!r.ok) return await ask(item, answer);
    await store.put("notes", `sent ${item.body.joint}`, {at: Date.now(), day: item.body.inspected_on || item.body.found_on});
    await store.drop("queue", item.uid);
    if (item.kind === "inspections") renew(`/inspect/${item.body.joint}`);
    return answer;
  } catch (e) {
    if (e instanceof TypeError || e instanceof SyntaxError) return null; // no link, or a portal in between that answers for the server
    throw e;
  }
}

async function ask(item, problem) {
  item.state = problem.newer?.length ? "conflict" : problem.odd?.length ? "odd" : "refused";
  item.problem = problem;
  await store.put("queue", item.uid, item);
  return item;
}

// renew keeps the new form of a joint that was taken along.
async function renew(path) {
  const kept = await caches.open("reseal-forms");
  if (!await kept.match(path)) return;
  try {
    const r = await fetch(path);
    if (r.ok) await kept.put(path, r);
  } catch { /* the one from before stays */ }
}

function element(name, text, more = {}) {
  const e = Object.assign(document.createElement(name), more);
  if (text) e.textContent = text;
  return e;
}

// watch shows the queue in its place on the page and keeps trying.
export async function watch() {
  const place = document.getElementById("queue");
  if (!place) return;
  const change = (item, act) => async () => {
    await act(item);
    if (await store.get("queue", item.uid)) await store.put("queue", item.uid, {...item, state: "waiting", problem: undefined});
    show();
    await send();
  };
  const button = (text, second, act) => {
    const b = element("button", text, {type: "button", className: second ? "second" : ""});
    b.addEventListener("click", act);
    return b;
  };
  const choices = item => {
    const drop = button("Drop it", true, change(item, i => store.drop("queue", i.uid)));
    const again = button("Change it", true, async () => {
      await store.put("drafts", item.back.key, {values: item.back.values, photos: item.back.photos});
      await store.drop("queue", item.uid);
      location.assign(item.back.path);
    });
    if (item.state === "odd") return [button("It is right: keep it", false, change(item, i => { i.body.accept_odd = true; })), again, drop];
    if (item.state === "refused") return [again, drop];
    const newest = item.problem.newer[0].id;
    return [
      button("Keep both", false, change(item, i => { i.body.seen_id = newest; })),
      button("Mine replaces it", true, change(item, i => { i.body.seen_id = newest; i.body.replaces_id = newest; })), drop,
    ];
  };
  const told = item => {
    const p = item.problem;
    if (item.state === "odd") return `Look again: ${p.odd.join("; ")}.`;
    if (item.state === "conflict") return `${p.detail}: ${inWords(p.newer[0])}.`;
    return `Not kept: ${p.detail}.`;
  };
  show = async () => {
    const items = (await store.all("queue")).sort((a, b) => a.at - b.at);
    const waiting = items.filter(i => i.state === "waiting");
    const parts = [];
    if (waiting.length) {
      parts.push(element("p", `${waiting.length} waiting to be sent: ${waiting.map(i => i.title).join(", ")}. Kept on this phone until there is a link.`, {id: "waiting"}),
        button("Send now", true, () => send()));
    }
    for (const item of items.filter(i => i.state !== "waiting")) {
      const box = element("div", "", {className: `asks ${item.state}`});
      const row = element("div", "", {className: "row"});
      row.append(...choices(item));
      box.append(element("h2", item.title), element("p", told(item)), row);
      parts.push(box);
    }
    place.replaceChildren(...parts);
    place.hidden = parts.length === 0;
  };
  await show();
  addEventListener("online", () => send());
  setInterval(async () => {
    if ((await store.all("queue")).some(i => i.state === "waiting")) send();
  }, RETRY_MS);
  await send();
}

// inWords is what another inspector has on record.
function inWords(i) {
  const ft = ["cs1_ft", "cs2_ft", "cs3_ft", "cs4_ft"].map(s => (i.feet || []).reduce((sum, f) => sum + f[s], 0));
  const said = ft.map((v, s) => v ? `${Number(v.toPrecision(4))} ft in CS${s + 1}` : "").filter(Boolean).join(", ");
  return said || (i.quick_worst ? `worst state CS${i.quick_worst}` : "no feet by state");
}

// install keeps the pages on the phone.
export function install() {
  navigator.serviceWorker?.register("/sw.js");
}
