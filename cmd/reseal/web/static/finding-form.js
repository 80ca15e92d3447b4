// The half-minute form of a finding, and the list it goes to.
import * as store from "./field-store.js";
import {add, install, send, watch} from "./field-send.js";
import {number, read, write, wrong} from "./field-values.js";
import {today} from "./field-judge.js";
import {Photos} from "./field-photo.js";
import {offer} from "./field-near.js";

const KEY = "finding";
const form = document.getElementById("finding");
install();
if (form) await begin();
await watch();
document.body.dataset.ready = "true";

async function begin() {
  form.noValidate = true; // what is missing is said beside the field
  let finished = false, keeping = Promise.resolve();
  const keep = () => {
    if (finished) return;
    const draft = {values: read(form), photos: photos.list};
    keeping = keeping.then(() => store.put("drafts", KEY, draft)).then(() => { form.dataset.kept = JSON.stringify(draft.values); });
  };
  const photos = new Photos(form, keep);
  const named = form.elements.joint.value || new URLSearchParams(location.search).get("joint") || "", draft = await store.get("drafts", KEY);
  if (draft && (!named || named === draft.values.joint || !draft.values.joint)) {
    write(form, {...draft.values, ...(named ? {joint: named} : {})});
    photos.set(draft.photos);
  } else if (named) {
    form.elements.joint.value = named; // a form that was taken along knows no joint
  }
  offer(j => {
    const b = Object.assign(document.createElement("button"), {type: "button", className: "second"});
    b.addEventListener("click", () => {
      form.elements.joint.value = j.tag;
      document.getElementById("near-list").hidden = true;
      keep();
    });
    return b;
  });
  form.addEventListener("input", keep);
  form.addEventListener("submit", async e => {
    e.preventDefault();
    const v = read(form), from = number(v.from_ft), to = number(v.to_ft), faults = [];
    if (!v.kind) faults.push({at: "kind", text: "say what it is"});
    if (!v.joint.trim()) faults.push({at: "joint", text: "say where: a tag, or the nearest joint"});
    if (from !== null && to !== null && to < from) faults.push({at: "to_ft", text: "from is the smaller"});
    wrong(form, faults);
    if (faults.length) return;
    finished = true;
    await keeping;
    const body = {
      joint: v.joint.trim(), kind: v.kind, urgency: v.urgency, found_on: today(), ...(v.notes.trim() ? {notes: v.notes.trim()} : {}),
      ...(from === null ? {} : {from_ft: from}), ...(to === null ? {} : {to_ft: to}),
    };
    const uid = await add("findings", `${v.kind} at ${body.joint}`, body, photos.list, {key: KEY, values: v, photos: photos.list, path: "/findings/new"});
    await store.drop("drafts", KEY);
    form.hidden = true;
    const answer = (await send())[uid], box = document.getElementById("done"), p = document.createElement("p");
    p.className = "lead";
    p.textContent = !answer ? "Kept on this phone. It is sent when there is a link." : answer.id ? (v.urgency === "severe" ? "On record, first on the list for an engineer's review." : "On record.") : "Not on record yet: see above.";
    const link = (text, href, className) => Object.assign(document.createElement("a"), {textContent: text, href, className});
    const line = Object.assign(document.createElement("div"), {className: "row"});
    line.append(link("All findings", "/findings", "button big"), link("Report another", "/findings/new", "button second"));
    box.replaceChildren(p, line);
    box.dataset.kept = !answer ? "phone" : answer.id ? "record" : "asked";
    box.hidden = false;
    scrollTo(0, 0);
  });
  form.dataset.ready = "true";
}
