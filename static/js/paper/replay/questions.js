/* The questions of the replay: put where the board has its words, marked by the page itself. */
const score = { asked: new Set(), right: new Set(), atOnce: new Set() };

/* Who else is told of every answer; nobody where the replay is a file by itself. */
let listener = () => {};

export function onAnswer(listen) {
  listener = listen;
}

/* Every question of the lesson, with its scene and its number in that, counted from 0. */
export function allQuestions(tape) {
  return tape.scenes.flatMap(({ questions }, scene) => questions.map((question, number) => ({ scene, number, question })));
}

/* What has become of each question, a sign for each: not answered, only wrong so far, right, or
   right at the first go. */
export function states(tape) {
  return allQuestions(tape).map(({ question }) => {
    if (score.atOnce.has(question)) return "1";
    if (score.right.has(question)) return "r";
    return score.asked.has(question) ? "w" : "-";
  }).join("");
}

/* Goes on from such signs. */
export function restoreStates(tape, signs) {
  for (const [at, { question }] of allQuestions(tape).entries()) {
    if ("wr1".includes(signs[at])) score.asked.add(question);
    if ("r1".includes(signs[at])) score.right.add(question);
    if (signs[at] === "1") score.atOnce.add(question);
  }
  if (score.asked.size) showScore();
}

/* The question of this frame that still waits for its answer: of several the first, or the first after
   another one. */
export function waiting(tape, scene, at, after = null) {
  const here = tape.scenes[scene].questions.filter((each) => each.at === at);
  return here.slice(here.indexOf(after) + 1).find((each) => !score.right.has(each)) ?? null;
}

/* Shows a question in a frame; answered() is called once the right choice has been made. */
export function ask(frame, scene, question, more, answered) {
  const words = frame.querySelector(".caption .words");
  words.outerHTML = question.html;
  const group = frame.querySelector(".question");
  const told = group.querySelector(".poll-state");
  group.addEventListener("click", (event) => {
    const button = event.target.closest(".choose");
    if (!button || score.right.has(question)) return;
    const choice = Number(button.dataset.choice);
    const right = choice === question.answer;
    if (right && !score.asked.has(question)) score.atOnce.add(question);
    score.asked.add(question);
    if (right) score.right.add(question);
    listener(scene, question, choice);
    button.closest(".choice").classList.add(right ? "is-right" : "is-wrong");
    if (!right) {
      button.disabled = true;
      // Why it is wrong would tell what is right: that is to be found yet.
      const mixedUp = question.mixups[choice];
      const hint = mixedUp ? `What may be mixed up: ${mixedUp}.` : "That is not it.";
      told.textContent = `${hint} Try again, or press Next to see.`;
      return;
    }
    for (const each of group.querySelectorAll(".choose")) each.disabled = true;
    told.textContent = more ? "Right. Press Next for another question." : "Right. Now watch the machine do it.";
    showScore();
    answered();
  });
}

function showScore() {
  const count = score.right.size;
  const place = document.getElementById("score");
  place.textContent = `Questions you have got right: ${count}, of them ${score.atOnce.size} at the first go.`;
}

/* What there is to say of them at the end of the lesson. */
export function result(tape) {
  const all = tape.scenes.reduce((sum, each) => sum + each.questions.length, 0);
  if (!all) return "";
  return `You got ${score.right.size} of ${all} questions right, ${score.atOnce.size} at the first go.`;
}
