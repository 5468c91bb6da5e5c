/* The run at a glance: each phase is a button that takes the board there.

   They are one stop of the Tab key, as the cells of a grid are; the arrows go from one to another. */
const fold = document.getElementById("run-fold");
const ASIDE = "(min-width: 62rem)"; // as in write.css: it stands beside what is done, and scrolls

export function setUpRun({ go, turn }) {
  if (!matchMedia(ASIDE).matches) fold.open = false;
  fold.addEventListener("click", async (event) => {
    const button = event.target.closest("[data-step], [data-around]");
    if (!button) return;
    // A button that was clicked must not take the next arrow: it is the board's.
    if (event.detail) button.blur();
    if (button.dataset.step) return go(Number(button.dataset.step));
    await turn(Number(button.dataset.around));
    fold.scrollTop = 0;
    reachable();
  });
  fold.addEventListener("keydown", (event) => {
    const there = event.target.matches("[data-step]") && neighbour(event.target, event.key);
    if (!there || event.ctrlKey || event.altKey || event.metaKey) return;
    event.preventDefault();
    event.stopPropagation();
    fold.querySelector("[data-step][tabindex='0']")?.setAttribute("tabindex", "-1");
    there.tabIndex = 0;
    there.focus();
  });
  fold.addEventListener("toggle", followRun);
  followRun();
}

function neighbour(button, key) {
  const all = [...fold.querySelectorAll("[data-step]")];
  const row = button.closest("[role=row]");
  const column = [...row.querySelectorAll("[data-step]")].indexOf(button);
  const beside = (line) => {
    const cells = line?.matches("[role=row]") ? [...line.querySelectorAll("[data-step]")] : [];
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
  const row = fold.querySelector("[aria-current]")?.closest("[role=row]");
  if (!row || !fold.open || !matchMedia(ASIDE).matches) return;
  const head = fold.firstElementChild.offsetHeight;
  const top = row.offsetTop - head;
  const below = row.offsetTop + row.offsetHeight - fold.clientHeight;
  if (fold.scrollTop > top) fold.scrollTop = top;
  else if (fold.scrollTop < below) fold.scrollTop = below;
}
