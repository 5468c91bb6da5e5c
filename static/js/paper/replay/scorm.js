/* The replay in a learning platform: what a pupil did is told to it, and the place is kept. */
import { allQuestions, onAnswer, restoreStates, states } from "./questions.js";
import { start } from "./replay.js";
import { connect } from "./platform.js";

const REFUSED = "The learning platform did not begin, so nothing of what you do is kept. Close this and open it there again.";
const LETTERS = "abcdefghij";
const NOT_FOUND = "No learning platform was found here, so nothing of what you do is kept.";
// More are not named at once.
const MOST_NAMED = 4;
const BACK = "You go on where you left.";

let tape = null;
let tell = () => {};
let platform = null;
let questions = [];
let since = Date.now();
let seenEnd = false;
let place = [0, 0];

/* Takes up what the platform has kept, or starts anew. */
function begin(played, say) {
  tape = played;
  tell = say;
  questions = allQuestions(tape);
  const found = connect(document.body.dataset.scorm, tell);
  if (!found || found.refused) return { scene: 0, at: 0, words: found ? REFUSED : NOT_FOUND };
  platform = found;
  onAnswer(answered);
  addEventListener("pagehide", () => platform.finish());
  addEventListener("visibilitychange", () => {
    if (document.hidden) platform.commit();
  });
  // It was left and comes back from the browser's memory: the platform has to begin again, too.
  addEventListener("pageshow", (event) => {
    if (event.persisted) location.reload();
  });
  const kept = platform.kept().split("|");
  if (kept.length !== 5 || kept[0] !== "1" || kept[3].length !== questions.length) {
    return { scene: 0, at: 0 };
  }
  restoreStates(tape, kept[3]);
  seenEnd = kept[4] === "end";
  return { scene: Number(kept[1]) || 0, at: Number(kept[2]) || 0, words: BACK };
}

function moved(scene, at, isEnd) {
  if (!platform) return;
  if (isEnd) seenEnd = true;
  place = [scene, at];
  keep();
  sayMissing();
  if (at === 0 || isEnd) platform.commit();
  since = Date.now();
}

/* Each answer is told, also the wrong ones before the right one. */
function answered(scene, question, choice) {
  const number = questions.findIndex((each) => each.question === question);
  platform.interaction({
    id: `scene-${scene + 1}-question-${questions[number].number + 1}`,
    prompt: question.prompt,
    response: LETTERS[choice],
    right: choice === question.answer,
    answer: LETTERS[question.answer],
    mixup: question.mixups[choice],
    seconds: (Date.now() - since) / 1000,
  });
  since = Date.now();
  keep();
  sayMissing();
  platform.commit();
}

/* What is still to do once the end was seen; empty where nothing is. */
function missing() {
  const signs = states(tape);
  const left = questions.filter((_, at) => signs[at] === "-");
  if (!left.length || !seenEnd) return "";
  const names = left.slice(0, MOST_NAMED).map(({ scene, number }) => `question ${number + 1} of scene ${scene + 1}`);
  const more = left.length > MOST_NAMED ? ` and ${left.length - MOST_NAMED} more` : "";
  return `Not finished yet: ${names.join(", ")}${more}.`;
}

/* Says it under what the replay itself says there. */
function sayMissing() {
  const note = document.getElementById("note");
  const own = note.textContent.replace(/ ?Not finished yet:.*$/, "");
  tell([own, missing()].filter(Boolean).join(" "));
}

/* The place, the score and how far the pupil is. */
function keep() {
  const signs = states(tape);
  const count = (wanted) => [...signs].filter((sign) => wanted.includes(sign)).length;
  platform.keep(`1|${place[0]}|${place[1]}|${signs}|${seenEnd ? "end" : ""}`, `${place[0] + 1}.${place[1]}`);
  if (questions.length) platform.score(count("1") / questions.length);
  // Who was never right has answered, too: the score tells the two apart.
  const done = (count("wr1") + (seenEnd ? 1 : 0)) / (questions.length + 1);
  platform.progress(done, done === 1);
}

start({ begin, moved });
