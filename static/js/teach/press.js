/* Sends what the board's controls ask for: one after another, as they were pressed. What comes of it
   is brought by the stream. */
const UNREACHED = "Chalkcycle cannot be reached.";

const waiting = [];
let busy = false;

/* Asks the server for something: whether it did it, and the words of its answer, which are HTML. */
export async function ask(address, options = {}) {
  try {
    const answer = await fetch(address, { ...options, headers: { "HX-Request": "true" } });
    return { ok: answer.ok, text: await answer.text() };
  } catch (error) {
    // No network.
    if (!(error instanceof TypeError)) throw error;
    return { ok: false, text: UNREACHED };
  }
}

/* Tells the teacher why nothing came of a press, until the board moves. */
export function refuse(text) {
  const place = document.getElementById("class-refusal") ?? document.getElementById("notice");
  place.innerHTML = text;
}

/* Calls failed() where the server does not do it, or cannot be reached. */
export function send(address, failed) {
  waiting.push({ address, failed });
  // The first leaves at once, before anything else is done about the press.
  if (!busy) sendAll();
}

async function sendAll() {
  busy = true;
  while (waiting.length) {
    const { address, failed } = waiting.shift();
    const { ok, text } = await ask(address, { method: "POST" });
    if (ok) continue;
    failed();
    refuse(text);
  }
  busy = false;
}
