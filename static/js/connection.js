/* Says so when the stream is lost, and stops saying so when it is back; and says when the lesson has
   ended: then nothing is tried again. */
export function watchConnection(stage) {
  const notice = document.getElementById("connection");
  const over = document.getElementById("ended");

  function end() {
    notice.hidden = true;
    over.hidden = false;
  }

  // On the stage itself, so that nobody further out takes this message for a frame.
  stage.addEventListener("htmx:before:sse:message", (event) => {
    if (event.detail.message.event !== "ended") return;
    event.stopPropagation();
    event.detail.message.cancelled = true;
    end();
  });
  document.addEventListener("htmx:before:sse:connection", (event) => {
    if (!over.hidden) event.detail.connection.cancelled = true;
  });
  document.addEventListener("htmx:sse:error", (event) => {
    // It ended while this page was away.
    if (event.detail.status === 404) end();
    else notice.hidden = !over.hidden;
  });
  document.addEventListener("htmx:after:sse:connection", () => { notice.hidden = true; });
  document.addEventListener("htmx:after:sse:message", () => { notice.hidden = true; });
}
