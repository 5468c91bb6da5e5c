/* A form that leads to another page is sent once: a double press would open two boards, or make two
   copies. Who comes back to the page can press again; so can who was led nowhere. */
const AGAIN_MILLISECONDS = 3000;

export function sendOnce() {
  const sent = new Set();
  addEventListener("submit", (event) => {
    if (event.defaultPrevented) return;
    if (sent.has(event.target)) return event.preventDefault();
    sent.add(event.target);
    setTimeout(() => sent.delete(event.target), AGAIN_MILLISECONDS);
  });
  addEventListener("pageshow", () => sent.clear());
}
