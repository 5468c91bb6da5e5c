/* A phone shows a part of the board: what moves stays in sight, and so does what it changed. On a
   screen that has the whole board nothing is scrolled. */

/* Keeps a value in sight, above the caption, until its animation is over. */
export function follow(vehicle, animation, lines) {
  if (!scrolls(lines)) return;
  const look = () => {
    if (animation.playState !== "running" || !vehicle.isConnected) return;
    bringIntoSight(vehicle);
    requestAnimationFrame(look);
  };
  look();
}

/* After a step: the word or register that it changed, or else the one that it read. */
export function showOutcome(frame, lines) {
  if (!scrolls(lines)) return;
  const outcome = frame.querySelector(".row.lit") ?? frame.querySelector(".changed, .lit");
  if (outcome) bringIntoSight(outcome);
}

/* A part that was opened is read from its top, wherever the board had been scrolled to before. */
export function showOpened(frame) {
  const opened = frame.querySelector(".opened");
  if (opened && floatingCaption()) bringIntoSight(opened);
}

function scrolls(lines) {
  return lines.classList.contains("form-tall");
}

function bringIntoSight(element) {
  const caption = floatingCaption();
  const covered = caption ? innerHeight - caption.getBoundingClientRect().top : 0;
  element.style.scrollMargin = `12px 0 ${covered + 12}px`;
  element.scrollIntoView({ block: "nearest" });
}

/* The caption, where it lies over the board, as on a phone. */
function floatingCaption() {
  const caption = document.querySelector(".caption");
  return caption && getComputedStyle(caption).position === "fixed" ? caption : null;
}
