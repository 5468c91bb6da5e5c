/* What is new is said, and only that: the live region stays in the page while frames come and go.
   A question is read out once; then its round, that it is closed, the spread, the right answer
   and the reason, each when it comes. */
const region = document.getElementById("announce");
const first = document.getElementById("frame");
let last = first ? read(first) : null;

const STATES = {
  open: () => "The question is open again.",
  closed: (now) => `${now.state}.`,
  shown: (now) => `The spread: ${now.choices.map(({ letter, count }) => `${letter} ${count}`).join("; ")}.`,
};

export function announce(stage) {
  const frame = stage.querySelector("#frame");
  const before = last;
  last = read(frame);
  const words = [...news(before, last)].join(" ");
  if (words) region.textContent = words;
  // What a movement is about to show is not told before it has shown it.
  if (isKnown(last) && !isKnown(before)) whenStill(frame, () => sayTruth(frame, words));
}

/* Says other words than those of a step. */
export function announceWords(words) {
  region.textContent = words;
}

function read(frame) {
  const text = (name) => frame.querySelector(name)?.textContent.trim() ?? "";
  const { scene, step, base, poll, whatIf, inside } = frame.dataset;
  const [, question, round, pollState] = poll?.match(/^(.*)-(\d+)-(\w+)$/) ?? [];
  return {
    where: `${scene} ${step} ${whatIf ?? ""}`,
    whatIf,
    inside: inside ?? "",
    name: text(".opened h2"),
    position: text(".position"),
    sentence: text(".sentence"),
    base,
    blank: frame.classList.contains("blank"),
    depth: frame.classList.contains("depth-phases") ? "phases" : "all",
    // What the step does, where the question has the place of its sentence.
    said: frame.querySelector(".words")?.dataset.said ?? "",
    question,
    round,
    pollState,
    state: text(".poll-state"),
    // The questions of the replay, which have no poll, are read where they are.
    choices: [...frame.querySelectorAll(poll ? ".choice" : "no-choice")].map((each) => ({
      letter: each.querySelector(".letter").textContent,
      said: each.querySelector(".said").textContent,
      // The words for the ear beside a count are not wanted here.
      count: each.querySelector(".round-now .count")?.lastChild.textContent ?? "0",
      right: each.classList.contains("is-right"),
    })),
  };
}

function isKnown(state) {
  return state?.choices.some((each) => each.right) ?? false;
}

function* news(before, now) {
  const moved = before?.where !== now.where;
  if (moved && now.whatIf) yield now.whatIf;
  if (moved) yield `${now.position}.`;
  if (now.question) yield* ofQuestion(before, now);
  else if (moved || before.question) yield now.sentence;
  if (!before) return;
  if (!moved && before.inside !== now.inside) yield* ofOpened(now);
  if (before.base !== now.base) yield `Numbers: ${now.base}.`;
  if (before.depth !== now.depth) yield `Steps: ${now.depth}.`;
  if (before.blank !== now.blank) yield now.blank ? "The board is blank." : "The board is shown again.";
}

function* ofOpened(now) {
  yield now.inside ? `${now.name}.` : "Closed again.";
  yield now.sentence;
}

function* ofQuestion(before, now) {
  if (before?.question !== now.question) {
    yield `Question: ${now.sentence} ${now.choices.map(({ letter, said }) => `${letter}: ${said}`).join("; ")}.`;
    if (now.pollState !== "open") yield STATES[now.pollState](now);
    return;
  }
  // On the way to the answer.
  if (before.where !== now.where && now.said) yield now.said;
  if (before.round !== now.round) yield `Round ${now.round}: the question is asked again.`;
  else if (before.pollState !== now.pollState && !isKnown(now)) yield STATES[now.pollState](now);
}

function sayTruth(frame, words) {
  const { letter, said } = last.choices.find((each) => each.right) ?? {};
  if (!letter) return;
  // Why this pupil's own answer is wrong, which only their page shows.
  const own = frame.querySelector(".why-wrong:not([hidden])")?.textContent.trim();
  region.textContent = [words, `Right: ${letter}, ${said}.`, last.state, own].filter(Boolean).join(" ");
}

function whenStill(frame, act) {
  if (!frame.isConnected) return;
  if (!frame.classList.contains("moving")) act();
  else requestAnimationFrame(() => whenStill(frame, act));
}
