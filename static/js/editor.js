/* The editor of a program and of a lesson: a plain text area, with line numbers beside it and marks
   behind it.

   All rows have the same height, so a mark is a matter of counting them. A line of a program is one
   row; where lines wrap, in a lesson, the page brings who knows how many rows each has. */
const text = document.querySelector("#editor textarea");
const gutter = document.getElementById("gutter");
const behind = document.getElementById("behind");
const numbers = document.createElement("pre");
const marks = document.createElement("div");
const bars = document.createElement("div");
let seen = null;
let rowBefore = [0]; // for each line, how many rows stand before it; and all of them
let linesNow = [];
let marksWarnings = false;
let wrapped = null;

/* `pressed` is called where a line number was clicked, with the cursor in its line already; `left`
   where Escape asks for the way out; `moved` where the cursor may have gone elsewhere. `wraps`, where
   lines wrap, has the two functions of `write/wrapped.js`. */
export function setUpEditor({ pressed, left, moved, warnings = false, wraps = null }) {
  marksWarnings = warnings;
  wrapped = wraps;
  gutter.append(numbers, marks);
  behind.append(bars);
  text.addEventListener("input", drawNumbers);
  text.addEventListener("scroll", follow);
  document.addEventListener("selectionchange", moved);
  gutter.addEventListener("click", (event) => {
    const top = event.clientY - numbers.getBoundingClientRect().top;
    const line = lineOfRow(Math.floor(top / lineHeight()));
    if (!line) return;
    toLine(line, 1, 0, false);
    moved();
    pressed();
  });
  text.addEventListener("keydown", (event) => {
    // The Tab key goes on to the next control, as everywhere; Escape leads back to the machine.
    if (event.key === "Escape") left();
  });
  document.getElementById("problems").addEventListener("click", (event) => {
    const problem = event.target.closest("button.to-line")?.closest("li");
    if (problem) toLine(...place(problem), true);
  });
  if (wrapped) {
    // The same text takes other rows in another width.
    new ResizeObserver(() => {
      seen = null;
      drawMarks();
    }).observe(text);
  }
  drawNumbers();
  moved();
}

function place(problem) {
  return ["line", "column", "length"].map((name) => Number(problem.dataset[name]));
}

function lineHeight() {
  return parseFloat(getComputedStyle(text).lineHeight);
}

/* The line of the cursor, from 1. */
export function cursorLine() {
  return text.value.slice(0, text.selectionStart).split("\n").length;
}

/* Selects part of a line and brings it into sight. */
export function toLine(line, column, length, focus) {
  const start = text.value.split("\n").slice(0, line - 1).reduce((sum, each) => sum + each.length + 1, 0);
  if (focus) text.focus();
  text.setSelectionRange(start + column - 1, start + column - 1 + length);
  measure();
  text.scrollTop = Math.max(0, (rowOf(line) - 2) * lineHeight());
}

/* How many rows stand before a line, from 1. */
function rowOf(line) {
  return rowBefore[Math.min(line, rowBefore.length) - 1];
}

/* The line, from 1, of a row, from 0; 0 for none. */
function lineOfRow(row) {
  if (row < 0 || row >= rowBefore.at(-1)) return 0;
  let [low, high] = [1, rowBefore.length - 1];
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    if (rowOf(middle) <= row) low = middle;
    else high = middle - 1;
  }
  return low;
}

/* Counts the rows of each line, where the text is another one, and writes its number beside it. */
function measure() {
  if (text.value === seen) return;
  seen = text.value;
  const lines = seen.split("\n");
  const rows = wrapped ? wrapped.rowsOf(text, lines, lineHeight()) : lines.map(() => 1);
  const beside = [];
  rowBefore = [0];
  for (const [at, count] of rows.entries()) {
    rowBefore.push(rowBefore[at] + count);
    beside.push(at + 1, ...Array(count - 1).fill(""));
  }
  const said = beside.join("\n");
  if (numbers.textContent !== said) numbers.textContent = said; // a letter changes nothing here
}

function drawNumbers() {
  measure();
  follow();
}

/* Marks the lines that need mending, and those that are under way: numbers, from 1, of which the
   first has the arrow. */
export function drawMarks(lines = linesNow) {
  linesNow = lines;
  measure();
  marks.replaceChildren();
  bars.replaceChildren();
  const problems = [...document.querySelectorAll("#problems li:not(.warning)")].map(place);
  if (!problems.length) {
    for (const [at, line] of linesNow.entries()) {
      if (!at) put(marks, "now", line).textContent = "▶";
      put(bars, "line-now", line).style.height = `calc(var(--line) * ${rowOf(line + 1) - rowOf(line)})`;
    }
  }
  for (const [at, column, length] of problems) {
    put(marks, "fault", at).textContent = "!";
    if (!wrapped) underline(at, column - 1, Math.max(length, 1), 0);
    else for (const each of wrapped.placesOf(text, at, column, length)) underline(at, ...each);
  }
  if (marksWarnings) {
    for (const [at] of [...document.querySelectorAll("#problems li.warning")].map(place)) {
      put(marks, "warned", at).textContent = "?";
    }
  }
  text.setAttribute("aria-invalid", problems.length ? "true" : "false");
  drawNumbers();
}

function underline(line, column, length, row) {
  const bar = put(bars, "fault", line, row);
  bar.style.left = `${column}ch`;
  bar.style.width = `${length}ch`;
}

/* Brings the line that is under way into sight, unless somebody is writing somewhere else. */
export function followLine() {
  if (!linesNow.length || document.activeElement === text) return;
  const height = lineHeight();
  const top = rowOf(linesNow[0]) * height;
  const seen = text.scrollTop <= top && top + 2 * height <= text.scrollTop + text.clientHeight;
  if (!seen) text.scrollTop = Math.max(0, top - 2 * height);
}

function put(layer, name, line, row = 0) {
  const mark = document.createElement("span");
  mark.className = name;
  mark.style.top = `calc(var(--line) * ${rowOf(line) + row})`;
  layer.append(mark);
  return mark;
}

function follow() {
  for (const layer of [numbers, marks]) layer.style.transform = `translateY(${-text.scrollTop}px)`;
  bars.style.transform = `translate(${-text.scrollLeft}px, ${-text.scrollTop}px)`;
}
