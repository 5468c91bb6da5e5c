/* Keys press the buttons that name them, so a key can do nothing that a button cannot. */
function pressed(event) {
  return event.key === " " ? "Space" : event.key;
}

function typing(target) {
  return target.closest("input:not([type=checkbox], [type=range]), textarea, select, [contenteditable]");
}

function operates(target, key) {
  return (key === "Space" || key === "Enter") && target.closest("button, a, summary, input");
}

/* A slider has these keys of its own. */
function slides(target, key) {
  return target.matches("input[type=range]") && /^(Arrow|Page|Home|End)/.test(key);
}

export function listenToKeys() {
  document.addEventListener("keydown", (event) => {
    const key = pressed(event);
    if (event.ctrlKey || event.altKey || event.metaKey || event.repeat) return;
    if (document.querySelector("dialog[open]") || typing(event.target)) return;
    if (operates(event.target, key) || slides(event.target, key)) return;
    for (const button of document.querySelectorAll("[data-keys]")) {
      if (button.dataset.keys.split(" ").includes(key)) {
        event.preventDefault();
        button.click();
        return;
      }
    }
  });
}
