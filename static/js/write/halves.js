/* What is half typed into a form is kept in this browser, by the lesson, until it is written. */
import { get, set } from "../kept.js";

const nameOf = (kept) => `half ${location.pathname} ${kept}`;

/* What was half typed into a form of this name: the fields by their names. */
export function halfOf(kept) {
  return JSON.parse(get(nameOf(kept)) ?? "{}");
}

/* Keeps what is another thing in a form now than what it came with. */
export function keepHalf(form) {
  if (!form?.dataset.kept) return;
  const half = halfOf(form.dataset.kept);
  const changed = [...form.elements].filter((each) => each.name && (isChanged(each) || isOf(half, each)));
  if (!changed.length) return forgetHalf(form);
  // With what was typed goes what it was typed for.
  const chosen = [...form.elements].filter((each) => each.dataset.again);
  const fields = Object.fromEntries([...chosen, ...changed].map(({ name, value }) => [name, value]));
  set(nameOf(form.dataset.kept), JSON.stringify(fields));
}

export function forgetHalf(form) {
  if (form.dataset.kept) set(nameOf(form.dataset.kept), null);
}

/* Puts into a fresh form what was kept of it; whether something typed was. */
export function putHalfBack(form) {
  const fields = form.dataset.kept ? halfOf(form.dataset.kept) : {};
  let typed = false;
  for (const each of form.elements) {
    const value = fields[each.name];
    // What the rest of the form hangs on the server has put in.
    if (value === undefined || each.dataset.again) continue;
    if (each.type === "radio" || each.type === "checkbox") {
      if (each.type === "radio") each.checked ||= each.value === value;
    } else {
      typed ||= each.value !== value && each.type !== "hidden";
      each.value = value;
    }
  }
  const own = form.querySelector("details [name=own]");
  if (own) own.closest("details").open = own.value === "on";
  return typed;
}

/* Whether a field still says what was half typed into it before: a form may have come with that. */
function isOf(half, field) {
  return !["radio", "checkbox", "hidden"].includes(field.type) && !field.dataset.again && field.value !== "" && half[field.name] === field.value;
}

function isChanged(field) {
  if (field.type === "radio") return field.checked && !field.defaultChecked;
  if (field.type === "hidden") return field.name === "own" && field.value === "on";
  if (field.type === "checkbox" || !("defaultValue" in field)) return false;
  return field.value !== field.defaultValue;
}
