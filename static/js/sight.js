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

function scrolls(lines) {
  return lines.classList.contains("form-tall");
}

function bringIntoSight(element) {
  const caption = document.querySelector(".caption");
  const floats = caption && getComputedStyle(caption).position === "fixed";
  const covered = floats ? innerHeight - caption.getBoundingClientRect().top : 0;
  element.style.scrollMargin = `12px 0 ${covered + 12}px`;
  element.scrollIntoView({ block: "nearest" });
}
