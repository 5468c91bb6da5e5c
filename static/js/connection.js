/* Keeps the stream of a page, and says so while it has none. A stream that is lost is tried again
   (htmx's extension does that); so is one that was refused, or that was never there; and one that
   is silent for too long, because a network can go without a word. Says when the lesson has ended:
   then nothing is tried again. */

// The server gives a sign of life every ten seconds.
const SILENT_MILLISECONDS = 25_000;
const LOOK_MILLISECONDS = 1_000;
const AGAIN_MILLISECONDS = 2_000;

const REFUSED = {
  403: "This page may not follow any more. Open the teacher's address that Chalkcycle printed last.",
  429: "Too many pages follow this lesson already. Close some; this page goes on trying.",
  503: "Chalkcycle is too busy for this page at this moment, which goes on trying.",
};

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

  function end() {
    notice.hidden = true;
    over.hidden = false;
  }

  function lost(status) {
    notice.textContent = REFUSED[status] ?? lostWords;
    notice.hidden = !over.hidden;
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
    if (!over.hidden) stream.cancelled = true;
  });
  stage.addEventListener("htmx:after:sse:connection", alive);
  stage.addEventListener("htmx:after:sse:message", alive);
  stage.addEventListener("htmx:sse:error", (event) => {
    // It ended while this page was away.
    if (event.detail.status === 404) end();
    else lost(event.detail.status);
  });
  stage.addEventListener("htmx:sse:close", () => {
    stream = null;
    startAgain();
  });

  // The first stream, which is a request like any other until it is there.
  stage.addEventListener("htmx:before:response", (event) => {
    if (event.target !== stage || event.detail.ctx.response.status < 400) return;
    // What came is no frame.
    event.preventDefault();
    if (event.detail.ctx.response.status === 404) return end();
    lost(event.detail.ctx.response.status);
    startAgain();
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
