/* What is sent to the server, one thing after the other, and what comes back. */
import { sentenceOf } from "../messages.js";

// A browser goes on sending so many bytes for a page that is left already (64 KiB, of all requests
// together: the Fetch standard, from memory).
const MOST_LEAVING = 60_000;

let address;
let version;
let area;
let seen;
let page;
let last = Promise.resolve();
let underWay = 0;

export function setUpSending(given) {
  ({ address, version, area } = given);
  page = given;
  seen = area.value;
}

/* Whether something was typed that the server has not had yet. */
export function typedSince() {
  return area.value !== seen;
}

/* The version of the text that the page has seen. */
export function versionSeen() {
  return version;
}

/* Does something with the lesson; answers what came of it, null where nothing did. */
export function send(what, more = {}, leaving = false) {
  underWay += 1;
  const done = last.then(() => sendNow(what, more, leaving)).finally(() => { underWay -= 1; });
  last = done.catch(() => null); // that it failed is told to who has sent it; the next thing goes on
  return done;
}

/* Whether something is on its way, or waits to be. */
export function isSending() {
  return underWay > 0;
}

async function sendNow(what, more, leaving) {
  const text = area.value;
  const { scene, step, said, around = 0, whole = false } = page.place();
  const body = { version, scene, step, said, around, whole, ...(text === seen ? {} : { text }), ...more };
  // What changes the text at the server must not meet with letters that come in meanwhile.
  const changes = what !== "now" && what !== "move" && what !== "panel";
  area.readOnly = changes;
  const sent = JSON.stringify(body);
  try {
    const response = await fetch(`${address}/${what}`, {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: sent,
      keepalive: leaving && new Blob([sent]).size <= MOST_LEAVING,
    });
    if (!response.headers.get("Content-Type")?.includes("json")) {
      const said = sentenceOf(await response.text());
      page.fail(response.status === 500 || !said ? "Chalkcycle could not do that. The text is still here." : said);
      return null;
    }
    const answer = await response.json();
    // The letters are there now; what is to be done with them comes after they were read.
    if (answer.again) {
      ({ version } = answer);
      seen = text;
      return await sendNow(what, more, leaving);
    }
    // What has changed only where is told from the version that both started from.
    if (answer.choose && answer.against === "window" && more.base === undefined) {
      return await sendNow(what, { ...more, base: seen }, leaving);
    }
    if (answer.choose) {
      // The server has this text in its draft, and only the file is another; or it has refused it,
      // and goes on refusing it until somebody has chosen: then the version seen stays the old one.
      if (answer.against === "file") ({ version } = answer), (seen = text);
      page.choose(answer, text, what, more.base);
      return null;
    }
    if (answer.text === text) delete answer.text; // the page has it, and perhaps more by now
    if (answer.text !== undefined && area.value !== text) {
      // Another text has come, and letters meanwhile: they are sent as a change of what was seen.
      delete answer.text;
    } else {
      ({ version } = answer);
      seen = answer.text ?? text;
    }
    page.take(answer, what);
    return answer;
  } catch (error) {
    if (!(error instanceof TypeError)) throw error;
    page.fail("Chalkcycle does not answer. The text is still on this page: try again in a moment.");
    return null;
  } finally {
    area.readOnly = false;
  }
}

/* Who shows two versions to choose from. */
export function onChoice(choose) {
  page.choose = choose;
}
