/* The run at a glance: each phase is a button that takes the board there.

   They are one stop of the Tab key, as the cells of a grid are; the arrows go from one to another. */
const fold = document.getElementById("run-fold");
const CELL = "[data-step], [data-around], [data-panel]";
const ASIDE = "(min-width: 62rem)"; // as in write.css: it stands beside what is done, and scrolls

export function setUpRun({ go, turn }) {
  if (!matchMedia(ASIDE).matches) fold.open = false;
  fold.addEventListener("click", async (event) => {
    const button = event.target.closest(CELL);
    if (!button) return;
    // A button that was clicked must not take the next arrow: it is the board's.
    if (event.detail) button.blur();
    if (button.dataset.step) return go(Number(button.dataset.step));
    if (!button.dataset.around) return; // what opens a form does so everywhere
    await turn(Number(button.dataset.around));
    bring(fold.querySelector(`#run-${button.dataset.around}`)); // where it goes on
    reachable();
  });
  fold.addEventListener("keydown", (event) => {
    const there = event.target.matches(CELL) && neighbour(event.target, event.key);
    if (!there || event.ctrlKey || event.altKey || event.metaKey) return;
    event.preventDefault();
    event.stopPropagation();
    for (const each of fold.querySelectorAll("[role=row] [tabindex='0']")) each.tabIndex = -1;
    there.tabIndex = 0;
    there.focus();
  });
  fold.addEventListener("toggle", followRun);
  followRun();
}

function neighbour(button, key) {
  const all = [...fold.querySelectorAll(CELL)];
  const row = button.closest("[role=row]");
  const column = [...row.querySelectorAll(CELL)].indexOf(button);
  const beside = (line) => {
    const cells = [...(line?.querySelectorAll(CELL) ?? [])];
    return cells[Math.min(column, cells.length - 1)] ?? button;
  };
  switch (key) {
    case "ArrowRight": return all[all.indexOf(button) + 1] ?? button;
    case "ArrowLeft": return all[all.indexOf(button) - 1] ?? button;
    case "ArrowDown": return beside(row.nextElementSibling);
    case "ArrowUp": return beside(row.previousElementSibling);
    case "Home": return all[0];
    case "End": return all.at(-1);
    default: return null;
  }
}

/* One of them can always be reached with the Tab key. */
function reachable() {
  if (!fold.querySelector("[data-step][tabindex='0']")) {
    fold.querySelector("[data-step]")?.setAttribute("tabindex", "0");
  }
}

/* Brings the row where the board stands into sight, without moving the page. */
export function followRun() {
  reachable();
  if (matchMedia(ASIDE).matches) bring(fold.querySelector("[aria-current]")?.closest("[role=row]"));
}

/* Leads the keyboard to where the board stands in it. */
export function goToRun() {
  fold.open = true;
  fold.querySelector("[data-step][tabindex='0']")?.focus();
}

function bring(row) {
  if (!row || !fold.open) return;
  if (!matchMedia(ASIDE).matches) return row.scrollIntoView({ block: "nearest" });
  const top = row.offsetTop - fold.firstElementChild.offsetHeight;
  const below = row.offsetTop + row.offsetHeight - fold.clientHeight;
  if (fold.scrollTop > top) fold.scrollTop = top;
  else if (fold.scrollTop < below) fold.scrollTop = below;
}
