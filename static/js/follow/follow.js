/* A pupil's page: follows the board; looks back alone, and comes back to now with one press. */
import { announce } from "../announce.js";
import { isOfAnotherMachine, watchConnection } from "../connection.js";
import { setUpTheme } from "../controls.js";
import { measureBar } from "../bar.js";
import { giveBackFocus, holdFocus } from "../focus.js";
import { listenToKeys } from "../keys.js";
import { finish, show } from "../movement.js";
import { markAnswer, setUpAnswers } from "./answers.js";
import { pollOf } from "../messages.js";
import { watchSpacing } from "../spacing.js";

const stage = document.getElementById("stage");
const screen = document.getElementById("screen");
const bar = document.querySelector(".follow-bar");
const where = document.getElementById("where");
const [back, on, now] = ["back", "on", "now"].map((name) => document.getElementById(`look-${name}`));
const frame = () => document.getElementById("frame");

let alone = false;
let asking = false;

function follow() {
  alone = false;
  // A button that goes must not take the keyboard's place with it.
  if ([on, now].includes(document.activeElement)) back.focus();
  on.disabled = now.disabled = true;
  tell("Following the board");
}

/* The same words again would be heard again. */
function tell(words) {
  if (where.textContent !== words) where.textContent = words;
}

function leave() {
  alone = true;
  on.disabled = now.disabled = false;
  tell("Looking back");
}

/* Another frame has been put in: its movement, its words, its answer. */
function shown() {
  show(stage);
  // Before it is said: what is said of an answer is what stands there of it.
  markAnswer();
  announce(stage);
  giveBackFocus(screen);
}

async function fetchFrame(path) {
  // One at a time: what is pressed meanwhile would start from a step that is not there yet.
  if (asking) return false;
  asking = true;
  try {
    const answer = await fetch(bar.dataset.class + path, { headers: { "HX-Request": "true" } });
    const text = await answer.text();
    if (!answer.ok) {
      where.innerHTML = text;
      return false;
    }
    if (isOfAnotherMachine(text)) location.reload();
    finish();
    holdFocus(screen);
    screen.innerHTML = text;
    htmx.process(screen);
    shown();
    return true;
  } catch (error) {
    if (!(error instanceof TypeError)) throw error;
    tell("Chalkcycle cannot be reached");
    return false;
  } finally {
    asking = false;
  }
}

async function look(by) {
  const { scene, step } = frame().dataset;
  // Where that fails the page goes on as it did: who followed the board still does.
  if (await fetchFrame(`/at?scene=${scene}&step=${step}&by=${by}`)) leave();
}

back.addEventListener("click", () => look("back"));
on.addEventListener("click", () => look("on"));
now.addEventListener("click", async () => {
  if (await fetchFrame("/now")) follow();
});

document.addEventListener("htmx:before:sse:message", (event) => {
  if (alone) {
    // The teacher has asked something, or it has gone on: the class looks at the board together.
    if (pollOf(event.detail.message.data) === (frame().dataset.poll ?? "")) {
      event.detail.message.cancelled = true;
      return;
    }
    follow();
  }
  finish();
  holdFocus(screen);
});
document.addEventListener("htmx:after:sse:message", () => {
  // What a look back could not do is no news any more.
  if (!alone) follow();
  shown();
});
addEventListener("resize", finish);

listenToKeys();
setUpTheme();
watchSpacing(stage);
measureBar(bar);
watchConnection(stage);
setUpAnswers(bar.dataset.class);
markAnswer();
