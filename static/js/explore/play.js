/* Playing: the page presses Next at the pace that the frame names. */
import { spoken } from "../speech.js";

const button = document.getElementById("control-play");
const forward = document.getElementById("control-forward");
let timer = null;

export function playing() {
  return timer !== null;
}

export function setUpPlay(facts) {
  button.addEventListener("click", () => {
    if (playing()) return pause();
    if (facts().over) return;
    button.textContent = "Pause";
    button.ariaPressed = "true";
    next();
  });
  button.ariaPressed = "false";
}

function next() {
  timer = 0;
  forward.click();
}

export function pause() {
  // It is called at every key: what is written into the page is laid out, even where it is the same.
  if (!playing()) return;
  clearTimeout(timer);
  timer = null;
  button.textContent = "Play";
  button.ariaPressed = "false";
}

/* A frame has come in, as the answer to the press or to something else: the next press is due after
   its movement and a rest, and once its words have been read out where somebody listens. */
export function playOn(facts, answersPress) {
  // A press is on its way: its own answer goes on.
  if (!playing() || (timer === 0 && !answersPress)) return;
  if (facts.over) pause();
  else {
    clearTimeout(timer);
    const mine = setTimeout(async () => {
      await spoken();
      if (timer === mine) next();
    }, Number(facts.pace));
    timer = mine;
  }
}
