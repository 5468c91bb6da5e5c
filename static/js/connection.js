/* Says so when the stream is lost, and stops saying so when it is back. */
export function watchConnection(stage) {
  const notice = document.getElementById("connection");
  document.addEventListener("htmx:sse:error", () => { notice.hidden = false; });
  document.addEventListener("htmx:after:sse:connection", () => { notice.hidden = true; });
  document.addEventListener("htmx:after:sse:message", () => { notice.hidden = true; });
}
