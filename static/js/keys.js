/* Keys press the buttons that name them, so a key can do nothing that a button cannot. */
import { get, set } from "./kept.js";

/* The name of a key as buttons have it. A letter is the same one with Caps Lock. */
function pressed(event) {
  if (event.key === " ") return "Space";
  return event.key.length === 1 ? event.key.toLowerCase() : event.key;
}

function typing(target) {
  return target.closest("input:not([type=checkbox], [type=radio], [type=range]), textarea, select, [contenteditable]");
}

function operates(target, key) {
  return (key === "Space" || key === "Enter") && target.closest("button, a, summary, input");
}

/* A slider has these keys of its own, and a radio button the arrows. */
function slides(target, key) {
  if (target.matches("input[type=radio]")) return key.startsWith("Arrow");
  return target.matches("input[type=range]") && /^(Arrow|Page|Home|End)/.test(key);
}

/* What lies over the page goes with the key that brought it, and with a clicker's, which has no
   other; unless that one turns its pages. */
function putAway(dialog, key, button) {
  const clicked = /^Page/.test(key) && dialog.scrollHeight <= dialog.clientHeight;
  if (clicked || button?.id === `control-${dialog.id}`) dialog.close();
}

/* Who speaks to a computer, or hits a key by chance, can switch off the keys that are one letter or
   sign (WCAG 2.2, 2.1.4). Those of a clicker, the arrows, Home, End and Space stay. */
const KEPT = "single-keys";

function isSwitchedOff(key) {
  return key.length === 1 && get(KEPT) === "off";
}

function setUpSwitch() {
  const box = document.getElementById("single-keys");
  if (!box) return;
  box.checked = get(KEPT) !== "off";
  box.addEventListener("change", () => set(KEPT, box.checked ? "on" : "off"));
}

/* A key whose button also stands for a long press acts when it comes up again, or once it is held
   so long that it repeats. */
let held = null;

function letGo(event) {
  if (held?.key !== event.key) return;
  if (!held.done) held.button.click();
  held = null;
}

function hold(event, button) {
  if (!event.repeat) held = { key: event.key, button, done: false };
  else if (held?.key === event.key && !held.done) {
    held.done = true;
    document.getElementById(button.dataset.long).click();
  }
}

export function listenToKeys() {
  setUpSwitch();
  document.addEventListener("keyup", letGo);
  addEventListener("blur", () => { held = null; });
  document.addEventListener("keydown", (event) => {
    const key = pressed(event);
    if (isSwitchedOff(key)) return;
    if (event.ctrlKey || event.altKey || event.metaKey) return;
    if (event.repeat && held?.key !== event.key) return;
    if (typing(event.target) || operates(event.target, key) || slides(event.target, key)) return;
    const button = [...document.querySelectorAll("[data-keys]")].find((each) =>
      each.dataset.keys.split(" ").includes(key));
    const dialog = document.querySelector("dialog[open]");
    if (dialog) return putAway(dialog, key, button);
    if (!button) return;
    event.preventDefault();
    if (button.dataset.long) hold(event, button);
    else button.click();
  });
  // A button that was clicked must not take the next Space, nor keep the controls in sight.
  document.addEventListener("click", (event) => {
    if (event.detail) event.target.closest("button[data-keys], nav a, nav button")?.blur();
  });
}
