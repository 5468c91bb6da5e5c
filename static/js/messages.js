/* What can be read off an answer before it is shown. */

/* The question of a frame with its round and state, as the page notices it; "" for none. */
export function pollOf(text) {
  return /<div id="frame"[^>]*? data-poll="([^"]*)"/.exec(text)?.[1] ?? "";
}

/* What a refusal says, for a place where words alone stand. */
export function sentenceOf(text) {
  return new DOMParser().parseFromString(text, "text/html").body.textContent.trim();
}
