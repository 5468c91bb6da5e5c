/* The frames of the teacher's pages. The stream brings each; and it brings the frame of the next
   press before it is pressed. That one is shown with the press, while the press is on its way. The
   stream then says what is true: where that is another frame, it takes the place of this one. */
import { announce } from "../announce.js";
import { finish, isBringingAnswer, show } from "../movement.js";
import { parse, put } from "../screen.js";
import { send } from "./press.js";

const PRESS = "control-forward";
// What can take a question off the board.
const LEAVES = [PRESS, "control-onward", "control-question"];
// Beside the frame a message may bring other parts of the page.
const OTHER_PARTS = "<hx-partial";

const stage = document.getElementById("stage");
const screen = document.getElementById("screen");
// What the server said last, and what it would say of the next press.
let truth = screen.innerHTML;
let ahead = null;
// What is shown before the server has said so.
let early = null;
// A press of Next at a question, of which nothing has come yet.
let awaited = false;

export function followStream() {
  document.addEventListener("htmx:before:sse:message", (event) => {
    const { message } = event.detail;
    if (message.event === "ahead") {
      hold(message.data);
      message.cancelled = true;
      return;
    }
    const at = message.data.indexOf(OTHER_PARTS);
    const text = at < 0 ? message.data : message.data.slice(0, at);
    if (!text.includes('id="frame"')) return;
    // The rest of it is for htmx.
    message.data = message.data.slice(text.length);
    truth = text;
    ahead = null;
    awaited = false;
    if (text.trim() !== early) display(parse(text));
    early = null;
  });
  document.addEventListener("click", showAnswerFirst, { capture: true });
  document.addEventListener("click", (event) => {
    const button = event.target.closest("[data-post], [hx-post]");
    if (!button) return;
    const { post } = button.dataset;
    if (post) send(post, takeBack);
    // Whatever else is pressed may change what this one does.
    if (button.id === PRESS && ahead && !early) {
      early = ahead.text;
      display(ahead.nodes ?? parse(ahead.text));
    }
    ahead = null;
  });
  addEventListener("resize", finish);
}

/* No press leaves a question whose answer is still on its way to the class: that one brings the
   answer at once, and the next one goes on. */
function showAnswerFirst(event) {
  const button = event.target.closest("button");
  if (!LEAVES.includes(button?.id)) return;
  const steps = button.id !== "control-question";
  if (isBringingAnswer(stage) || (steps && awaited)) {
    event.stopImmediatePropagation();
    finish();
    return;
  }
  awaited = steps && Boolean(stage.querySelector("#frame .question"));
}

/* Kept until it is shown, or another frame comes. */
function hold(text) {
  const held = { text: text.trim(), nodes: null };
  ahead = held;
  const prepare = () => {
    if (ahead === held) held.nodes = parse(held.text);
  };
  if ("requestIdleCallback" in window) requestIdleCallback(prepare);
  else setTimeout(prepare);
}

/* A press did not come to anything. */
function takeBack() {
  awaited = false;
  if (early === null) return;
  early = null;
  display(parse(truth));
  finish();
}

function display(nodes) {
  finish();
  put(screen, nodes);
  show(stage);
  announce(stage);
}
