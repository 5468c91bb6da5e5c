/* The editor of a program and of a lesson: a plain text area, with line numbers beside it and marks
   behind it.

   Lines are not wrapped, so every line has the same height and a mark is a matter of counting. */
const text = document.querySelector("#editor textarea");
const gutter = document.getElementById("gutter");
const behind = document.getElementById("behind");
const numbers = document.createElement("pre");
const marks = document.createElement("div");
const bars = document.createElement("div");
let count = 0;
let linesNow = [];
let marksWarnings = false;

/* `pressed` is called where a line number was clicked, with the cursor in its line already; `left`
   where Escape asks for the way out; `moved` where the cursor may have gone elsewhere. */
export function setUpEditor({ pressed, left, moved, warnings = false }) {
  marksWarnings = warnings;
  gutter.append(numbers, marks);
  behind.append(bars);
  text.addEventListener("input", drawNumbers);
  text.addEventListener("scroll", follow);
  document.addEventListener("selectionchange", moved);
  gutter.addEventListener("click", (event) => {
    const top = event.clientY - numbers.getBoundingClientRect().top;
    const line = Math.floor(top / lineHeight()) + 1;
    if (line > count) return;
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
  text.scrollTop = Math.max(0, (line - 3) * lineHeight());
}

function drawNumbers() {
  const now = text.value.split("\n").length;
  if (now !== count) {
    count = now;
    numbers.textContent = Array.from({ length: count }, (_, at) => at + 1).join("\n");
  }
  follow();
}

/* Marks the lines that need mending, and those that are under way: numbers, from 1, of which the
   first has the arrow. */
export function drawMarks(lines = linesNow) {
  linesNow = lines;
  marks.replaceChildren();
  bars.replaceChildren();
  const problems = [...document.querySelectorAll("#problems li:not(.warning)")].map(place);
  if (!problems.length) {
    for (const [at, line] of linesNow.entries()) {
      if (!at) put(marks, "now", line).textContent = "▶";
      put(bars, "line-now", line);
    }
  }
  for (const [at, column, length] of problems) {
    put(marks, "fault", at).textContent = "!";
    const bar = put(bars, "fault", at);
    bar.style.left = `${column - 1}ch`;
    bar.style.width = `${Math.max(length, 1)}ch`;
  }
  if (marksWarnings) {
    for (const [at] of [...document.querySelectorAll("#problems li.warning")].map(place)) {
      put(marks, "warned", at).textContent = "?";
    }
  }
  text.setAttribute("aria-invalid", problems.length ? "true" : "false");
  drawNumbers();
}

/* Brings the line that is under way into sight, unless somebody is writing somewhere else. */
export function followLine() {
  if (!linesNow.length || document.activeElement === text) return;
  const height = lineHeight();
  const top = (linesNow[0] - 1) * height;
  const seen = text.scrollTop <= top && top + 2 * height <= text.scrollTop + text.clientHeight;
  if (!seen) text.scrollTop = Math.max(0, top - 2 * height);
}

function put(layer, name, line) {
  const mark = document.createElement("span");
  mark.className = name;
  mark.style.top = `calc(var(--line) * ${line - 1})`;
  layer.append(mark);
  return mark;
}

function follow() {
  for (const layer of [numbers, marks]) layer.style.transform = `translateY(${-text.scrollTop}px)`;
  bars.style.transform = `translate(${-text.scrollLeft}px, ${-text.scrollTop}px)`;
}
