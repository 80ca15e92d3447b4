// Shows how far a job is, and goes on to what it leads to when it has ended.
const box = document.querySelector(".job"), bar = box.querySelector("progress"), count = box.querySelector(".job-count");

async function look() {
  try {
    const answer = await fetch(box.dataset.job + "/progress");
    if (!answer.ok) return location.reload();
    const p = await answer.json();
    if (p.ended) return location.replace(box.dataset.job);
    if (p.total > 0) [bar.max, bar.value] = [p.total, p.count];
    if (p.count > 0) count.textContent = p.count.toLocaleString("en-US") + (p.total > 0 ? " of " + p.total.toLocaleString("en-US") : "") + " " + box.dataset.unit;
  } catch {
    count.textContent = "The server does not answer; trying again.";
  }
  setTimeout(look, 1000);
}
setTimeout(look, 500);
