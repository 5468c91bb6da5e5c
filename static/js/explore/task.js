/* What the task of a scene has come to: kept with the work, and true of the program that did it. */
import { sentenceOf } from "../messages.js";
import { exchange, field, get, recall, remember } from "./work.js";

const outcome = document.getElementById("outcome");
const achieved = document.getElementById("achieved");
const tab = document.getElementById("tab-task");
const UNTRIED = outcome?.innerHTML;
const back = document.createElement("button");
let tried = null;
let told = "";
// Why the class does not count it, once that is known.
let uncounted = "";

export function setUpTask() {
  if (!outcome) return;
  back.type = "button";
  back.textContent = "Bring that program back";
  back.addEventListener("click", () => {
    exchange({ program: achievement().program, inputs: get("inputs") });
    document.getElementById("check-task").focus();
  });
  for (const event of ["input", "changed-by-page"]) field("program").addEventListener(event, draw);
  draw();
}

/* What has done this task before. Of a task that the lesson has changed since, nothing has. */
function achievement() {
  const done = recall("task");
  return done?.task === outcome.dataset.task ? done : null;
}

/* Where the class counts who has finished, and what proves it. Sent again where it did not get
   there; the class counts each pupil once. */
const AGAIN_MILLISECONDS = 3_000;
const MOST_TIMES = 20;

async function tellClass(address, proof, times = MOST_TIMES) {
  try {
    const body = new URLSearchParams({ proof });
    const answer = await fetch(address, { method: "POST", body, headers: { "HX-Request": "true" } });
    if (answer.ok) return;
    if (answer.status < 500 && answer.status !== 429) return notCounted(sentenceOf(await answer.text()));
  } catch (error) {
    // The network was away.
    if (!(error instanceof TypeError)) throw error;
  }
  if (times === 1) notCounted("Chalkcycle does not answer. Check your program once more in a while.");
  else setTimeout(() => tellClass(address, proof, times - 1), AGAIN_MILLISECONDS);
}

function notCounted(why) {
  uncounted = `The class has not counted it. ${why}`;
  draw();
}

/* A program has been checked; ``done`` is what the server says where that has done the task. */
export function checked(program, done) {
  tried = program;
  uncounted = "";
  const [address, proof] = done?.split(" ") ?? [];
  if (proof) tellClass(address, proof);
  if (outcome.querySelector(".well")) remember("task", { program, task: outcome.dataset.task });
  draw();
}

function draw() {
  const now = get("program");
  const done = achievement();
  if (tried !== null && tried !== now) {
    tried = null;
    uncounted = "";
    outcome.innerHTML = UNTRIED;
  }
  const stands = done?.program === now;
  const name = stands ? "Task ✓" : "Task";
  if (tab.textContent !== name) tab.textContent = name;
  const kept = !done || tried !== null ? "" : stands
    ? "✓ This program has done the task."
    : "You have done the task. The program has been changed since.";
  const words = `${kept} ${uncounted}`.trim();
  // The same words again would be heard again.
  if (words === told) return;
  told = words;
  achieved.textContent = words;
  if (kept && !stands) achieved.append(" ", back);
}
