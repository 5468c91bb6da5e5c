/* Whether the lesson was changed elsewhere, in another program or window, while its page lies open. */
import { isSending, send, typedSince, versionSeen } from "./sending.js";

const LOOK_MILLISECONDS = 5000;

export function watchFile(address, { quiet, seen, changed }) {
  let asking = false;

  async function look() {
    if (asking || document.hidden || quiet() || isSending()) return;
    asking = true;
    try {
      // Letters that are still here: nobody answered when they were sent, or they have just come.
      if (typedSince()) {
        await send("now");
        return;
      }
      const before = versionSeen();
      const response = await fetch(address, {
        method: "POST",
        headers: { "Content-Type": "application/json" },
        body: JSON.stringify({ version: before }),
      });
      if (!response.ok) return; // what the page asks for next tells why
      const found = await response.json();
      // Something was sent meanwhile: its answer has told already.
      if (isSending() || before !== versionSeen() || quiet()) return;
      const other = ["outside", "gone"].some((name) => found[name] !== Boolean(seen()[name]));
      if (found.version !== before || other) await changed(found, found.version !== before);
    } catch (error) {
      // Nobody answers: that is told as soon as something is written.
      if (!(error instanceof TypeError)) throw error;
    } finally {
      asking = false;
    }
  }

  addEventListener("focus", look);
  document.addEventListener("visibilitychange", look);
  setInterval(look, LOOK_MILLISECONDS);
}
