// A file dropped onto the page goes into the form; sending it shows how much has
// arrived. Without this script the form works by itself.
const form = document.querySelector("form.drop"), file = form.querySelector("input[type=file]"), words = form.querySelector(".sending");

for (const name of ["dragenter", "dragover"]) addEventListener(name, (e) => { e.preventDefault(); form.classList.add("over"); });
addEventListener("dragleave", (e) => { if (!e.relatedTarget) form.classList.remove("over"); });
addEventListener("drop", (e) => {
  e.preventDefault();
  form.classList.remove("over");
  if (e.dataTransfer.files.length !== 1) return say("One file at a time, please.");
  file.files = e.dataTransfer.files;
  form.requestSubmit();
});

form.addEventListener("submit", (e) => {
  e.preventDefault();
  const bar = document.createElement("progress"), request = new XMLHttpRequest();
  bar.setAttribute("aria-label", "sent");
  say("Sending " + file.files[0].name + " ", bar);
  request.upload.onprogress = (p) => { if (p.lengthComputable) [bar.max, bar.value] = [p.total, p.loaded]; };
  request.upload.onload = () => say("It has arrived, and is being looked at.");
  request.onerror = () => say("The server cannot be reached. Nothing was changed: send it again.");
  request.onload = () => {
    if (request.status < 400 || new URL(request.responseURL).pathname !== new URL(form.action).pathname) return location.assign(request.responseURL);
    const main = new DOMParser().parseFromString(request.responseText, "text/html").querySelector("main");
    say(main ? main.innerText.trim() : "The file was refused.");
  };
  request.open("POST", form.action);
  request.send(new FormData(form));
});

function say(text, ...more) { words.replaceChildren(text, ...more); }
