/* Keeps the stream of a page, and says so while it has none. A stream that is lost is tried again
   (htmx's extension does that); so is one that was refused, or that was never there; and one that
   is silent for too long, because a network can go without a word. Says when the lesson has ended:
   then nothing is tried again. */

// The server gives a sign of life every ten seconds.
const SILENT_MILLISECONDS = 25_000;
const LOOK_MILLISECONDS = 1_000;
const AGAIN_MILLISECONDS = 2_000;

// No such lesson, or one that is over: then nothing is tried again.
const OVER = [404, 410];
// What is said whatever the answer says, and what where the answer has no words of Chalkcycle's.
const FORBIDDEN = document.body.classList.contains("follow")
  ? "The class is not let in at this moment. Ask your teacher; this page goes on trying."
  : "This page may not follow any more. Open the teacher's address that Chalkcycle printed last.";
const BUSY = "Chalkcycle is too busy for this page at this moment, which goes on trying.";

/* Why an answer refuses what was asked; empty where it is not Chalkcycle that says so. */
async function reasonOf(answer) {
  try {
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    return page.querySelector(".refusal")?.textContent ?? "";
  } catch (error) {
    // The network has gone in the middle of it.
    if (!(error instanceof TypeError)) throw error;
    return "";
  }
}

/* Whether a frame is of another machine than the page was made for. */
export function isOfAnotherMachine(text) {
  const machine = /<div id="frame"[^>]*? data-machine="([^"]*)"/.exec(text)?.[1];
  return machine !== undefined && machine !== document.getElementById("stage").dataset.machine;
}

export function watchConnection(stage) {
  const notice = document.getElementById("connection");
  const over = document.getElementById("ended");
  const lostWords = notice.textContent;
  let stream = null;
  let heard = Date.now();
  let again = null;
  // The stream was refused when it was asked for again. htmx does not tell with which words: so it is
  // not to go on asking, and this page does.
  let refused = false;

  function end() {
    notice.hidden = true;
    over.hidden = false;
  }

  function lost(words = lostWords) {
    notice.textContent = words;
    notice.hidden = !over.hidden;
  }

  async function tellWhy(answer) {
    const reason = answer.status === 403 ? "" : await reasonOf(answer);
    // It may have come back meanwhile.
    if (stream) return;
    if (reason) lost(`${reason} This page goes on trying.`);
    else lost({ 403: FORBIDDEN, 503: BUSY }[answer.status]);
  }

  function alive() {
    heard = Date.now();
    notice.hidden = true;
  }

  function startAgain() {
    if (again !== null || !over.hidden) return;
    // Not everybody in the same moment.
    const wait = AGAIN_MILLISECONDS * (0.5 + Math.random());
    again = setTimeout(() => {
      again = null;
      refused = false;
      htmx.ajax("GET", stage.getAttribute("hx-sse:connect"), { source: stage });
    }, wait);
  }

  // On the stage itself, so that nobody further out takes these messages for a frame.
  stage.addEventListener("htmx:before:sse:message", (event) => {
    const { message } = event.detail;
    alive();
    // A frame to come is none that is to be shown.
    if (message.event === "ahead") return;
    if (message.event === "ended") end();
    else if (!message.event && !isOfAnotherMachine(message.data)) return;
    else if (!message.event) location.reload();
    event.stopPropagation();
    message.cancelled = true;
  });
  stage.addEventListener("htmx:before:sse:connection", (event) => {
    stream = event.detail.connection;
    if (refused || !over.hidden) stream.cancelled = true;
  });
  stage.addEventListener("htmx:after:sse:connection", alive);
  stage.addEventListener("htmx:after:sse:message", alive);
  stage.addEventListener("htmx:sse:error", (event) => {
    const { status } = event.detail;
    // It ended while this page was away.
    if (OVER.includes(status)) return end();
    refused = status !== undefined;
    lost();
  });
  stage.addEventListener("htmx:sse:close", () => {
    stream = null;
    startAgain();
  });

  // The first stream, which is a request like any other until it is there.
  stage.addEventListener("htmx:before:response", (event) => {
    const answer = event.detail.ctx.response.raw;
    if (event.target !== stage || answer.status < 400) return;
    // What came is no frame.
    event.preventDefault();
    if (OVER.includes(answer.status)) return end();
    startAgain();
    tellWhy(answer);
  });
  stage.addEventListener("htmx:error", (event) => {
    if (event.target !== stage) return;
    lost();
    startAgain();
  });

  setInterval(() => {
    if (!over.hidden || Date.now() - heard < SILENT_MILLISECONDS) return;
    lost();
    heard = Date.now();
    // Either it was silent, and htmx asks again, or that has had no answer either.
    if (stream?.reader) stream.reader.cancel();
    else stream?.abortController?.abort();
  }, LOOK_MILLISECONDS);
}
