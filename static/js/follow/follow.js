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
// What the stream has brought last since this page asked for a frame.
let came = null;

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

/* Puts in the frame that choose(its text) names, and then does what that leads to; where there is
   none, the page goes on as it did. */
async function fetchFrame(path, then, choose = (text) => text) {
  // One at a time: what is pressed meanwhile would start from a step that is not there yet.
  if (asking) return;
  asking = true;
  came = null;
  try {
    const answer = await fetch(bar.dataset.class + path, { headers: { "HX-Request": "true" } });
    const text = await answer.text();
    if (!answer.ok) {
      where.innerHTML = text;
      return;
    }
    if (isOfAnotherMachine(text)) location.reload();
    finish();
    holdFocus(screen);
    screen.innerHTML = choose(text);
    htmx.process(screen);
    shown();
    then();
  } catch (error) {
    if (!(error instanceof TypeError)) throw error;
    tell("Chalkcycle cannot be reached");
  } finally {
    asking = false;
  }
}

function look(by) {
  const { scene, step, poll = "" } = frame().dataset;
  // What has been asked meanwhile is looked at together, as at any other moment.
  const isNews = () => came !== null && pollOf(came) !== poll;
  fetchFrame(
    `/at?scene=${scene}&step=${step}&by=${by}`,
    () => (isNews() ? follow() : leave()),
    (text) => (isNews() ? came : text),
  );
}

back.addEventListener("click", () => look("back"));
on.addEventListener("click", () => look("on"));
// What the stream has brought meanwhile may be newer than the answer. Where it is older, the stream
// is going to bring what is newer still.
now.addEventListener("click", () => fetchFrame("/now", follow, (text) => came ?? text));

document.addEventListener("htmx:before:sse:message", (event) => {
  came = event.detail.message.data;
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
