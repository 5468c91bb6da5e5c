/* Predict first: the questions come from the server; here they get the focus and a tally. */
import { announceWords } from "../announce.js";
import { recall, remember, set, get, keep } from "./work.js";
import { showTab } from "./tabs.js";

const question = document.getElementById("question");
const switch_ = document.getElementById("predicting");
const onlyExecute = document.getElementById("only-execute");
const tally = document.getElementById("tally");
const forward = document.getElementById("control-forward");
const RESTING = question.innerHTML;
let shown = question.firstElementChild;
// Where the focus was when a question is asked again, and how many answers to that are to come.
let again = null;
// What had been said to the question whose place an answer takes, and at which step.
let said = null;

export function setUpPredicting() {
  switch_.checked = get("predict") !== "";
  onlyExecute.checked = get("predict") === "execute";
  switch_.addEventListener("change", () => {
    chosen();
    if (switch_.checked) forward.click();
    else rest();
  });
  onlyExecute.addEventListener("change", () => {
    chosen();
    if (onlyExecute.checked) rest();
  });
  question.addEventListener("click", (event) => {
    if (event.target.id === "ask-next") forward.click();
  });
  question.addEventListener("change", holdBackValue);
  question.addEventListener("keydown", (event) => {
    if (event.key === "Escape") forward.focus();
  });
  drawTally();
}

function chosen() {
  set({ predict: switch_.checked ? (onlyExecute.checked ? "execute" : "on") : "" });
  keep();
}

/* No question is open: the machine has been moved by something else. */
export function rest() {
  if (question.contains(document.activeElement)) forward.focus();
  question.innerHTML = RESTING;
  shown = question.firstElementChild;
  again = null;
}

/* Whether something new has come into the place of the question since this was last asked. */
export function questionCame() {
  const before = shown;
  shown = question.firstElementChild;
  return shown !== before;
}

/* A setting may change what is asked: then it is asked again, with what has been said so far, and
   the pupil stays at the same place of the page. */
export function askAgain() {
  if (!question.querySelector("form.ask")) return;
  const focus = question.contains(document.activeElement) && document.activeElement;
  again = { name: focus.name, value: focus.type === "radio" ? focus.value : null, left: (again?.left ?? 0) + 1 };
  forward.click();
}

/* An answer is about to come in. On a slow machine the pupil has said more since it was asked for. */
export function holdSaid() {
  const form = question.querySelector("form.ask");
  said = form && { step: get("step"), fields: [...form.querySelectorAll("input")].map(({ name, type, value, checked }) => ({ name, type, value, checked })) };
}

/* The question of the same step has come once more: what was said in the meantime is said. */
function putBackSaid() {
  if (said?.step !== get("step")) return;
  for (const was of said.fields) {
    for (const each of question.querySelectorAll("form.ask input")) {
      if (each.name !== was.name || each.type !== was.type) continue;
      if (was.type !== "radio") each.value = was.value;
      else if (was.checked && was.value === each.value) each.checked = true;
    }
  }
}

/* The value is asked for once a part has been chosen: a field for a number or a choice of bits
   would give the part away. */
function holdBackValue() {
  const value = question.querySelector('[data-asks="value"]');
  const places = [...question.querySelectorAll("input[name=place]")];
  if (!value || !places.length) return;
  value.hidden = !places.some((each) => each.checked);
  for (const each of value.querySelectorAll("input")) each.disabled = value.hidden;
}

/* Something has come into the place of the question. */
export function asked() {
  putBackSaid();
  holdBackValue();
  if (again) return findFocus();
  showTab("predict");
  // On a phone the machine is under the question: both are to be in view.
  if (document.documentElement.scrollHeight > innerHeight) question.scrollIntoView({ block: "start" });
  const marked = question.querySelector(".marked");
  if (marked) {
    count(marked);
    document.getElementById("ask-next").focus({ preventScroll: true });
    announceWords(question.querySelector("#verdict").textContent + " " + [...question.querySelectorAll(".answers .why")].map((each) => each.textContent).join(" "));
  } else {
    const wrong = question.querySelector('[aria-invalid="true"]');
    (wrong ?? question.querySelector("input:checked, input"))?.focus({ preventScroll: !wrong });
  }
}

function findFocus() {
  const { name, value } = again;
  again.left -= 1;
  if (!again.left) again = null;
  const same = [...question.querySelectorAll("input")].filter((each) => each.name === name);
  const found = same.find((each) => value === null || each.value === value) ?? same[0];
  found?.focus();
  // Who is in the middle of a word goes on at its end.
  if (found?.type === "text") found.setSelectionRange(found.value.length, found.value.length);
}

function count(marked) {
  const now = recall("tally") ?? { asked: 0, right: 0, mixed: {} };
  now.asked += Number(marked.dataset.asked);
  now.right += Number(marked.dataset.right);
  for (const each of marked.querySelectorAll("[data-mixup]")) {
    const name = each.dataset.mixup;
    now.mixed[name] = (now.mixed[name] ?? 0) + 1;
  }
  remember("tally", now);
  drawTally();
}

function drawTally() {
  const now = recall("tally");
  if (!now) return;
  const [most] = Object.entries(now.mixed).sort((one, other) => other[1] - one[1]);
  const watch = most ? ` Look out for: ${most[0]}.` : "";
  tally.textContent = `${now.right} of ${now.asked} answers right so far.${watch}`;
}
