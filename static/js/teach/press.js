/* Sends what the board's controls ask for: one after another, as they were pressed. What comes of it
   is brought by the stream. */
const waiting = [];
let busy = false;

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
    if (!(await isDone(address))) failed();
  }
  busy = false;
}

async function isDone(address) {
  try {
    return (await fetch(address, { method: "POST", headers: { "HX-Request": "true" } })).ok;
  } catch (error) {
    // No network: the page says so as soon as its stream ends.
    if (!(error instanceof TypeError)) throw error;
    return false;
  }
}
