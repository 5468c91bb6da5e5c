/* How lines wrap in a text area: what it does itself, done once more in a box of the same width and
   type, which can be measured. */
let box;
let width = 0;
let known = new Map();

/* How many rows each of these lines takes. Only those are measured that were not known. */
export function rowsOf(area, lines, height) {
  fit(area);
  const fresh = [...new Set(lines.filter((each) => !known.has(each)))];
  const made = fresh.map((each) => {
    const line = document.createElement("div");
    line.textContent = each || " ";
    return line;
  });
  box.replaceChildren(...made);
  const measured = made.map((each) => each.offsetHeight);
  const now = new Map();
  for (const [at, line] of fresh.entries()) known.set(line, Math.max(1, Math.round(measured[at] / height)));
  box.replaceChildren();
  for (const line of lines) now.set(line, known.get(line));
  known = now; // those that are gone need no room
  return lines.map((each) => known.get(each));
}

/* Where letters of a line stand, which may go on in its next row: for each row the column, from 0, how
   many, and the row, from 0. */
export function placesOf(area, line, column, length) {
  fit(area);
  const words = area.value.split("\n")[line - 1] ?? "";
  const mirror = document.createElement("div");
  mirror.textContent = words || " ";
  box.replaceChildren(mirror);
  const node = mirror.firstChild;
  const letter = document.createElement("span");
  const range = document.createRange();
  const start = Math.min(column - 1, Math.max(node.length - 1, 0));
  range.setStart(node, start);
  range.setEnd(node, Math.min(start + Math.max(length, 1), node.length));
  const from = mirror.getBoundingClientRect();
  const height = parseFloat(getComputedStyle(area).lineHeight);
  letter.textContent = "0";
  const places = [...range.getClientRects()].filter((each) => each.width);
  mirror.replaceChildren(letter);
  const one = letter.getBoundingClientRect().width;
  box.replaceChildren();
  return places.map((each) => [
    (each.left - from.left) / one,
    each.width / one,
    Math.floor(((each.top + each.bottom) / 2 - from.top) / height),
  ]);
}

/* The box takes the type of the text area, and its width; with another width nothing is known. */
function fit(area) {
  if (!box) {
    box = document.createElement("div");
    box.className = "measured";
    box.setAttribute("aria-hidden", "true");
    area.parentElement.append(box);
  }
  if (area.clientWidth === width) return;
  width = area.clientWidth;
  box.style.width = `${width}px`;
  known = new Map();
}
