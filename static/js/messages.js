/* What a message of the stream brings: a frame, or only a count of answers. */
export function bringsFrame(event) {
  return event.detail.message.data.includes('id="frame"');
}

/* The question of a frame with its round and state, as the page notices it; "" for none. */
export function pollOf(text) {
  return /<div id="frame"[^>]*? data-poll="([^"]*)"/.exec(text)?.[1] ?? "";
}
