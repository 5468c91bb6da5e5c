/* The recorded lesson: unpacked once, and each frame put together from its lines when shown. */
export async function readTape() {
  const packed = atob(document.getElementById("tape").textContent);
  const bytes = Uint8Array.from(packed, (each) => each.charCodeAt(0));
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"));
  return JSON.parse(await new Response(stream).text());
}

export function canRead() {
  return "DecompressionStream" in window;
}

/* The HTML of a frame of a scene. */
export function frameOf(tape, scene, at) {
  return tape.scenes[scene].frames[at].map((line) => tape.lines[line]).join("\n");
}
