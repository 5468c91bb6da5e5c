/* Keys press the buttons that name them, so a key can do nothing that a button cannot. */
function pressed(event) {
  return event.key === " " ? "Space" : event.key;
}

function typing(target) {
  return target.closest("input:not([type=checkbox]), textarea, select, [contenteditable]");
}

function operates(target, key) {
  return (key === "Space" || key === "Enter") && target.closest("button, a, summary, input");
}

export function listenToKeys() {
  document.addEventListener("keydown", (event) => {
    const key = pressed(event);
    if (event.ctrlKey || event.altKey || event.metaKey || event.repeat) return;
    if (document.querySelector("dialog[open]") || typing(event.target)) return;
    if (operates(event.target, key)) return;
    for (const button of document.querySelectorAll("[data-keys]")) {
      if (button.dataset.keys.split(" ").includes(key)) {
        event.preventDefault();
        button.click();
        return;
      }
    }
  });
}
