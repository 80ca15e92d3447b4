// The values of a form as one object, so that a draft can be kept and brought
// back.
export function read(form) {
  const values = {};
  for (const e of form.elements) {
    if (!e.name || e.type === "file") continue;
    if (e.type === "radio") {
      if (e.checked) values[e.name] = e.value;
    } else {
      values[e.name] = e.value;
    }
  }
  return values;
}

export function write(form, values) {
  for (const e of form.elements) {
    if (!e.name || e.type === "file" || !(e.name in values)) continue;
    if (e.type === "radio") e.checked = e.value === values[e.name];
    else e.value = values[e.name];
  }
}

// number is a field's number, or null where it has none.
export const number = text => text === undefined || text.trim() === "" || !isFinite(text) ? null : Number(text);

// say shows words in an element, or hides it.
export function say(element, text) {
  element.textContent = text || "";
  element.hidden = !text;
}

// wrong shows beside each field what cannot be, and leads to the first.
export function wrong(form, faults) {
  for (const p of form.querySelectorAll(".wrong")) say(p, "");
  for (const e of form.querySelectorAll("[aria-invalid]")) e.removeAttribute("aria-invalid");
  let first;
  for (const {at, text} of faults) {
    const p = form.querySelector(`#wrong-${at}`) || form.querySelector("#wrong-");
    say(p, p.textContent ? `${p.textContent}; ${text}` : text);
    const field = at && form.querySelector(`#${at}`);
    if (field) {
      field.setAttribute("aria-invalid", "true");
      field.setAttribute("aria-describedby", p.id);
    }
    first ??= field || p;
  }
  if (first) {
    first.closest("details")?.setAttribute("open", "");
    first.scrollIntoView({block: "center"});
    if (first.focus) first.focus();
  }
}
