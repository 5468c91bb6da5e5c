/* What this pupil answers: sent until the server says that it has it, and marked on the board. */
const AGAIN_MILLISECONDS = 2_000;
const PATIENCE_MILLISECONDS = 10_000;
// The server is there and cannot take it now.
const LATER = [429, 502, 503, 504];

const UNSENT = "Your answer could not be sent. It is sent again by itself.";

const mine = document.getElementById("mine");
let waiting = null;
let others;
// The question on the board with its round and state, as this page had it last.
let poll = pollNow();

function pollNow() {
  return document.getElementById("frame").dataset.poll ?? "";
}

/* Whether it can be answered, and could not before: then what was refused is no news any more. */
function isAskedAnew(before, now) {
  return now.endsWith("-open") && now !== before;
}

/* Marks the choice that this pupil has answered. The server says which one it took; here it is
   only shown, and forgotten once the board has another question or another round. */
export function markAnswer() {
  const taken = mine.querySelector("[data-poll]");
  const [before, now] = [poll, pollNow()];
  poll = now;
  mine.toggleAttribute("data-open", now.endsWith("-open"));
  const same = taken && now.startsWith(`${taken.dataset.poll}-`);
  if (taken ? !same : !waiting && isAskedAnew(before, now)) mine.replaceChildren();
  for (const button of document.querySelectorAll(".choose")) {
    const pressed = Boolean(same) && button.value === taken.dataset.choice;
    button.setAttribute("aria-pressed", String(pressed));
  }
  // Once the run has shown it, this pupil reads why their own choice is wrong.
  for (const why of document.querySelectorAll(".why-wrong")) {
    why.hidden = !same || why.dataset.choice !== taken.dataset.choice;
  }
}

function show(text) {
  mine.innerHTML = text;
  markAnswer();
}

async function post(address, body) {
  const headers = { "HX-Request": "true" };
  const patience = new AbortController();
  const timer = setTimeout(() => patience.abort(), PATIENCE_MILLISECONDS);
  try {
    const { signal } = patience;
    const answer = await fetch(address, { method: "POST", body, headers, signal });
    return { status: answer.status, text: await answer.text() };
  } finally {
    clearTimeout(timer);
  }
}

/* One after the other; where another choice is made meanwhile, that one is sent. */
async function send(address) {
  while (waiting) {
    const sent = waiting;
    let answer = null;
    try {
      answer = await post(address, sent);
    } catch (error) {
      // No network, or no answer in time.
      if (!(error instanceof TypeError) && error.name !== "AbortError") throw error;
    }
    if (answer && !LATER.includes(answer.status)) {
      if (sent !== waiting) continue;
      waiting = null;
      show(answer.text);
      others?.postMessage(answer.text);
      return;
    }
    // Said once, and not at every attempt.
    if (mine.textContent !== UNSENT) show(`<span>${UNSENT}</span>`);
    await new Promise((resolve) => setTimeout(resolve, AGAIN_MILLISECONDS));
  }
}

export function setUpAnswers(path) {
  // Another tab of this pupil's browser has answered for both.
  if ("BroadcastChannel" in globalThis) {
    others = new BroadcastChannel(`answers ${path}`);
    others.addEventListener("message", (event) => {
      if (!waiting) show(event.data);
    });
  }
  document.addEventListener("submit", (event) => {
    const form = event.target.closest(".answering");
    if (!form) return;
    event.preventDefault();
    const idle = !waiting;
    waiting = new URLSearchParams(new FormData(form, event.submitter));
    if (idle) send(form.action);
  });
}
