/* The pupil's page: what happens when an answer has come in, and what is sent with a press. */
import { announce } from "../announce.js";
import { measureBar } from "../bar.js";
import { setUpHelp, setUpTheme } from "../controls.js";
import { cursorLine, drawMarks, followLine, setUpEditor } from "../editor.js";
import { listenToKeys } from "../keys.js";
import { sentenceOf } from "../messages.js";
import { finish, show } from "../movement.js";
import { say, setUpSpeech, wordsOf } from "../speech.js";
import { pause, playing, playOn, setUpPlay } from "./play.js";
import { askAgain, asked, holdSaid, questionCame, rest, setUpPredicting } from "./predict.js";
import { openLink, setUpSharing } from "./share.js";
import { setUpTabs, shownTab, showMachine, showTab } from "./tabs.js";
import { checked, setUpTask } from "./task.js";
import { drawSettings } from "./settings.js";
import { drawTimeline } from "./timeline.js";
import { field, get, keep, replaceWork, restore, set, startAfresh } from "./work.js";
import { watchSpacing } from "../spacing.js";

// What an answer changes. Everything that is asked of the server waits its turn in one queue, so
// that no answer overtakes another, and is then sent as things are by now.
const LIVE = ["step", "limit", "depth", "base", "speed", "movement", "inside", "rung"].filter(field);

const stage = document.getElementById("stage");
const note = document.getElementById("note");
const given = document.getElementById("given");
const givenWrong = document.getElementById("given-wrong");
let frame = document.getElementById("frame");

const isSetting = (button) => button.dataset.group === "show";
const facts = () => document.getElementById("facts").dataset;

document.addEventListener("htmx:config:request", ({ detail: { ctx } }) => {
  const from = ctx.sourceElement;
  if (from.id === "control-line") ctx.request.body.set("at", cursorLine());
  if (from.id === "control-forward" && playing()) ctx.request.body.set("predict", "");
  else if ((from.id.startsWith("control-") && !isSetting(from)) || from.id === "timeline") pause();
  if (from.id.startsWith("control-")) showMachine();
});
document.addEventListener("htmx:before:request", (event) => {
  const { ctx } = event.detail;
  // What has left the page meanwhile asks for nothing: a question that was answered by the first of
  // two presses is not to answer the next one with the second.
  if (!ctx.sourceElement.isConnected) return event.preventDefault();
  for (const name of [...LIVE, "program", "inputs"]) ctx.request.body.set(name, get(name));
});
document.addEventListener("htmx:before:swap", (event) => {
  const { status } = event.detail.ctx.response;
  if (status < 400) {
    holdSaid();
    return finish();
  }
  event.preventDefault();
  pause();
  // The answer is a sentence for people; what went wrong inside the server is not.
  const said = sentenceOf(event.detail.ctx.text);
  note.textContent = status !== 500 && said ? said : "Chalkcycle could not do that. Your program is still here.";
});
document.addEventListener("htmx:error", () => {
  pause();
  note.textContent = "Chalkcycle does not answer. Your work is kept in this browser: try again in a moment.";
});
document.addEventListener("htmx:after:swap", ({ detail: { ctx } }) => {
  const from = ctx.sourceElement;
  const newFrame = document.getElementById("frame");
  const newQuestion = questionCame();
  markFaulty();
  if (newFrame !== frame) {
    const reads = readsLike();
    frame = newFrame;
    frameCame(from.id === "control-forward");
    if (!isSetting(from)) {
      if (!newQuestion) rest();
    } else if (readsLike() !== reads && !playing()) askAgain();
  } else if (from.id === "control-forward") {
    // A program that cannot run plays no further.
    pause();
  }
  drawMarks();
  if (from.id === "check-task") checked(ctx.request.body.get("program"), ctx.response.headers.get("Task-Done"));
  if (newQuestion) asked();
  if (from.id === "give") answerToGiven(ctx.request.body.get("given"));
  const rewritten = document.getElementById("rewritten");
  if (rewritten) {
    replaceWork({ program: rewritten.value });
    rewritten.remove();
  }
  // A word is shown as memory now has it, unless the pupil is writing there again.
  if (from.matches("#words input") && from !== document.activeElement) from.value = from.defaultValue;
});
addEventListener("resize", finish);

/* The settings that a question depends on. */
function readsLike() {
  return `${get("depth")} ${get("base")}`;
}

/* What is given to the waiting machine has been checked: only then is it an input. */
function answerToGiven(values) {
  const wrong = Boolean(givenWrong.textContent.trim());
  given.ariaInvalid = String(wrong);
  if (wrong) {
    given.focus();
    return given.select();
  }
  set({ inputs: `${get("inputs")} ${values}`.trim() });
  given.value = "";
  keep();
  document.getElementById("control-forward").click();
}

/* A program that needs mending is not on the machine: that shows the last one that ran. */
function markFaulty() {
  const [problem] = document.querySelectorAll("#problems li:not(.warning)");
  const was = document.body.classList.contains("faulty");
  document.body.classList.toggle("faulty", Boolean(problem));
  if (problem && !was) note.textContent = "The machine still shows the program as it was before.";
}

/* The line that is under way, if there is one. */
function lineOf(now) {
  return Number(now.line) ? [Number(now.line)] : [];
}

function nameLine() {
  const control = document.getElementById("control-line");
  const words = `Run to line ${cursorLine()}`;
  // Whatever is written into the page is laid out, even where it is the same.
  if (control.textContent !== words) control.textContent = words;
}

/* A new frame (of a press of Next, or not): it moves, it is said, and the page goes on from its step. */
function frameCame(pressed) {
  const now = facts();
  set(Object.fromEntries(LIVE.map((name) => [name, now[name]])));
  keep();
  note.textContent = document.getElementById("facts").textContent;
  drawTimeline(now);
  drawSettings(now);
  drawMarks(lineOf(now));
  show(stage);
  followLine();
  announce(stage);
  say(wordsOf(frame), Number(now.speed));
  playOn(now, pressed);
  if (!now.waits) {
    givenWrong.textContent = "";
    given.ariaInvalid = "false";
  }
  if (now.waits && !playing()) given.focus({ preventScroll: true });
  if (shownTab() === "memory") showTab("memory");
}

for (const name of ["program", "inputs"]) {
  field(name).addEventListener("input", () => {
    pause();
    startAfresh();
    keep();
  });
}
document.getElementById("control-editor").addEventListener("click", () => {
  showTab("program");
  field("program").focus();
});
document.getElementById("outcome")?.addEventListener("click", (event) => {
  if (event.target.id !== "walk-through") return;
  replaceWork({ inputs: event.target.dataset.inputs });
  showMachine();
  document.getElementById("control-forward").focus();
});

const kept = restore();
setUpTheme();
watchSpacing(stage);
setUpHelp();
setUpTabs();
measureBar(document.querySelector(".under"));
setUpEditor({
  pressed: () => document.getElementById("control-line").click(),
  left: () => document.getElementById("control-forward").focus(),
  moved: nameLine,
});
setUpPlay(facts);
setUpPredicting();
setUpTask();
setUpSpeech(
  document.getElementById("control-voice"),
  (words) => { note.textContent = words; },
  () => wordsOf(frame),
);
setUpSharing();
listenToKeys();
drawTimeline(facts());
drawSettings(facts());
drawMarks(lineOf(facts()));
document.addEventListener("DOMContentLoaded", async () => {
  if (kept) field("program").dispatchEvent(new Event("changed-by-page"));
  await openLink();
});
