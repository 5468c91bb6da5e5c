/* The controls that belong to this page alone: its theme, the list of keys, when they are seen. */
import { measureBar } from "./bar.js";
import { get, set } from "./kept.js";

const AWAKE_MILLISECONDS = 3000;

export function setUpTheme() {
  const root = document.documentElement;
  const dark = matchMedia("(prefers-color-scheme: dark)").matches;
  root.dataset.theme = get("theme") ?? (dark ? "dark" : "light");
  document.getElementById("control-theme")?.addEventListener("click", () => {
    root.dataset.theme = root.dataset.theme === "dark" ? "light" : "dark";
    set("theme", root.dataset.theme);
  });
}

export function setUpHelp() {
  const dialog = document.getElementById("help");
  document.getElementById("control-help").addEventListener("click", () => dialog.showModal());
}

export function wakeControls() {
  const controls = document.getElementById("controls");
  let timer;
  const wake = () => {
    controls.classList.add("awake");
    clearTimeout(timer);
    timer = setTimeout(() => controls.classList.remove("awake"), AWAKE_MILLISECONDS);
  };
  const all = document.getElementById("control-all");
  all?.addEventListener("click", () => {
    all.ariaExpanded = String(controls.classList.toggle("open"));
  });
  for (const event of ["pointermove", "pointerdown"]) addEventListener(event, wake);
  wake();
  measureBar(controls);
}
