// Moves the line while the budget is dragged; the server then answers what is
// true: where the line stands, what it buys and what it costs.
const ask = document.getElementById("ask");
const budget = document.getElementById("budget");
const slide = document.getElementById("slide");
const dollars = (n) => Math.round(n).toLocaleString("en-US");
let asked = 0;

// moveLine puts the line before the first joint that the money does not reach.
function moveLine(amount) {
  const list = document.getElementById("ranked");
  if (!list) return;
  let line = document.getElementById("line");
  if (!line) {
    line = document.createElement("li");
    line.id = "line";
    line.className = "line";
  }
  list.classList.add("moving");
  line.textContent = `The money ends here: $${dollars(amount)}`;
  const next = [...list.querySelectorAll(".item")].find((i) => Number(i.dataset.cents) > 100 * amount);
  if (next) next.before(line);
  else list.append(line);
}

// answer fetches the list for what the form says and puts it in place.
async function answer() {
  const turn = ++asked;
  const address = "/worklist?" + new URLSearchParams(new FormData(ask));
  const place = document.getElementById("answer");
  place.setAttribute("aria-busy", "true");
  try {
    const reply = await fetch(address);
    const page = new DOMParser().parseFromString(await reply.text(), "text/html");
    if (turn !== asked) return; // a later question has been asked
    const fresh = page.getElementById("answer");
    if (!reply.ok || !fresh) {
      location.assign(address);
      return;
    }
    place.replaceWith(fresh);
    document.getElementById("asked").replaceWith(page.getElementById("asked"));
    history.replaceState(null, "", address);
    ready();
  } catch {
    location.assign(address); // the browser says what is wrong
  }
}

slide.addEventListener("input", () => {
  budget.value = dollars(slide.value);
  moveLine(Number(slide.value));
});
slide.addEventListener("change", answer);
budget.addEventListener("change", () => {
  const amount = Number(budget.value.replace(/[$,\s]/g, ""));
  if (amount > 0) slide.value = amount;
  answer();
});
ask.addEventListener("submit", (e) => {
  if (ask.elements.year.dataset.was === ask.elements.year.value &&
      ask.elements.district.dataset.was === ask.elements.district.value &&
      ask.elements.route.dataset.was === ask.elements.route.value) {
    e.preventDefault();
    answer();
  }
});
for (const name of ["year", "district", "route"]) ask.elements[name].dataset.was = ask.elements[name].value;

// The form to decide opens in place, over the list.
const dialog = document.getElementById("decide-dialog");
document.addEventListener("click", (e) => {
  const link = e.target.closest("a.decide");
  if (!link || e.ctrlKey || e.metaKey) return;
  e.preventDefault();
  const tag = link.closest(".item").dataset.tag;
  const form = dialog.querySelector("form.decide");
  form.action = `/joints/${tag}/decisions`;
  form.setAttribute("aria-label", `Decide about ${tag}`);
  form.querySelector("legend").textContent = `What is decided about ${tag}`;
  form.elements.reason.value = "";
  dialog.showModal();
});

function ready() {
  if (document.querySelector("#answer .notice")) setTimeout(answer, 1500); // until it is of now
  const print = document.getElementById("print");
  if (!print) return;
  print.hidden = false;
  print.addEventListener("click", () => window.print());
}
ready();
