/* The screen is swapped while somebody stands in it with the keyboard: at the choices of a question.
   Who stood at one stands there afterwards, or at what has taken their place. */
let held = null;

export function holdFocus(screen) {
  const there = document.activeElement;
  held = screen.contains(there) ? (there.value ?? "") : null;
}

export function giveBackFocus(screen) {
  if (held === null) return;
  const choices = [...screen.querySelectorAll(".choose")];
  const place = choices.find((each) => each.value === held) ?? screen.querySelector(".words");
  held = null;
  if (screen.contains(document.activeElement)) return;
  if (place?.matches(".words")) place.tabIndex = -1;
  place?.focus({ preventScroll: true });
}
