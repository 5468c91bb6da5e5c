/* What can be read off a frame before it is shown. */

/* The question of a frame with its round and state, as the page notices it; "" for none. */
export function pollOf(text) {
  return /<div id="frame"[^>]*? data-poll="([^"]*)"/.exec(text)?.[1] ?? "";
}
