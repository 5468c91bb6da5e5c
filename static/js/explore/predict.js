/* Predict first: the questions come from the server; here they get the focus and a tally. */
import { announceWords } from "../announce.js";
import { recall, remember, set, get, keep } from "./work.js";
import { showTab } from "./tabs.js";

const question = document.getElementById("question");
const switch_ = document.getElementById("predicting");
const tally = document.getElementById("tally");
const RESTING = question.innerHTML;

export function setUpPredicting() {
  switch_.checked = get("predict") === "on";
  switch_.addEventListener("change", () => {
    set({ predict: switch_.checked ? "on" : "" });
    keep();
    if (switch_.checked) document.getElementById("control-forward").click();
    else rest();
  });
  question.addEventListener("click", (event) => {
    if (event.target.id === "ask-next") document.getElementById("control-forward").click();
  });
  drawTally();
}

/* No question is open: the machine has been moved by something else. */
export function rest() {
  question.innerHTML = RESTING;
}

/* Something has come into the place of the question. */
export function asked() {
  showTab("predict");
  const marked = question.querySelector(".marked");
  if (marked) {
    count(marked);
    document.getElementById("ask-next").focus();
    announceWords(question.querySelector("#verdict").textContent + " " + [...question.querySelectorAll(".answers .why")].map((each) => each.textContent).join(" "));
  } else {
    const wrong = question.querySelector('[aria-invalid="true"]');
    (wrong ?? question.querySelector("input:checked, input"))?.focus();
  }
}

function count(marked) {
  const now = recall("tally") ?? { asked: 0, right: 0, mixed: {} };
  now.asked += Number(marked.dataset.asked);
  now.right += Number(marked.dataset.right);
  for (const each of marked.querySelectorAll("[data-confusion]")) {
    const name = each.dataset.confusion;
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
