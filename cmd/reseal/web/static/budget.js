// Print is a button where there is a script to press it.
const print = document.getElementById("print");
print.hidden = false;
print.addEventListener("click", () => window.print());
