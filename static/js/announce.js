/* Each step is said once: the live region stays in the page while frames come and go. */
const region = document.getElementById("announce");
let said = "";

export function announce(stage) {
  const frame = stage.querySelector("#frame");
  const changed = frame.dataset.whatIf ?? "";
  const where = `${frame.dataset.scene} ${frame.dataset.step} ${frame.dataset.poll ?? ""} ${changed}`;
  if (where === said) return;
  said = where;
  const position = frame.querySelector(".position").textContent;
  region.textContent = `${changed} ${position}. ${frame.querySelector(".sentence").textContent}`;
}

/* Says other words than those of a step. */
export function announceWords(words) {
  region.textContent = words;
}
