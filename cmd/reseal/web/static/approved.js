// Shows of the form that moves jobs only what its step takes, and how many jobs
// are ticked. Without script all fields are there, and the server says what fits.
const form = document.getElementById("jobs");
if (form) {
  const to = form.elements.to, bar = form.querySelector(".job-bar"), button = form.querySelector("#move button");
  const show = () => {
    for (const part of form.querySelectorAll("[data-of]")) part.hidden = !part.dataset.of.split(" ").includes(to.value);
  };
  const tell = () => {
    const all = form.elements.all.checked, n = form.querySelectorAll('[name="job"]:checked').length;
    bar.hidden = n === 0 || all;
    bar.firstElementChild.textContent = n === 1 ? "1 job ticked" : `${n} jobs ticked`;
    button.textContent = all ? "Move every job that can" : n === 1 ? "Move 1 job" : `Move ${n} jobs`;
    button.disabled = n === 0 && !all;
  };
  to.addEventListener("change", show);
  form.addEventListener("change", tell);
  show();
  tell();
}
