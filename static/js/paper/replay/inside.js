/* A part of the machine opened in the replay, as on the board: the recording has it for each frame,
   and a picture of gates for all the columns that look alike. */
let open = null;

export function close() {
  open = null;
  showButtons();
}

/* What only leads on from something open is there only then. */
function showButtons() {
  for (const name of ["column-left", "column-right"]) {
    document.getElementById(`control-${name}`).hidden = open?.part !== "alu";
  }
  document.getElementById("control-out").hidden = !open;
}

/* What a key makes of what is open: null for nothing, else a part and one of its columns. */
const LOOKS = {
  alu: (now) => {
    if (now?.part !== "alu") return { part: "alu", column: null };
    return now.column === null ? { part: "alu", column: 0 } : now;
  },
  out: (now) => (now?.column != null ? { part: "alu", column: null } : null),
  "column-left": (now) => along(now, 1),
  "column-right": (now) => along(now, -1),
  signals: (now) => (now?.part === "signals" ? null : { part: "signals", column: null }),
};

function along(now, by) {
  if (now?.part !== "alu") return now;
  return { part: "alu", column: now.column === null ? 0 : now.column + by };
}

/* Does what a key says; held has of each part what is in it at this frame, or why it cannot be
   opened. Answers what is open now, null for nothing; or why it cannot be. */
export function look(name, held) {
  const wanted = LOOKS[name](open);
  if (wanted && "why" in held[wanted.part]) return held[wanted.part];
  if (wanted?.column != null) {
    const last = held[wanted.part].columns.length - 1;
    wanted.column = Math.max(0, Math.min(wanted.column, last));
  }
  const fresh = wanted !== null && wanted.part !== open?.part;
  open = wanted;
  showButtons();
  return open && { ...open, fresh };
}

/* Puts what is open in the place of the machine of a frame. */
export function showOpen(frame, tape, held) {
  if (!open) return;
  const { html, said, walks, columns } = held[open.part];
  const text = (number) => tape.lines[number];
  for (const each of [...frame.children]) {
    if (!each.matches("header, footer, #movement")) each.remove();
  }
  frame.querySelector("footer").insertAdjacentHTML("beforebegin", html.map(text).join("\n"));
  frame.classList.add("looked-into");
  frame.dataset.inside = open.column === null ? open.part : `${open.part}-${open.column}`;
  const sentence = frame.querySelector(".sentence");
  const words = open.column === null ? said : columns[open.column][2];
  sentence.textContent = text(words);
  sentence.parentElement.classList.toggle("long", text(words).length > tape.longSentence);
  sentence.parentElement.classList.remove("longer");
  const movement = frame.querySelector("#movement");
  movement.replaceChildren();
  if (open.column === null) {
    for (let beat = 0; beat < walks; beat += 1) {
      const leg = document.createElement("li");
      leg.dataset.routes = "";
      leg.dataset.beat = beat;
      movement.append(leg);
    }
    frame.dataset.beat = tape.columnMilliseconds;
    return;
  }
  const [gates, name] = columns[open.column];
  const table = frame.querySelector(".columns");
  table.classList.add("with-gates");
  for (const row of table.tBodies[0].rows) row.cells[row.cells.length - 1 - open.column].classList.add("open");
  table.insertAdjacentHTML("afterend", tape.gates[gates]);
  const figure = frame.querySelector(".gates");
  figure.ariaLabel = text(name);
  figure.querySelector("figcaption").textContent = text(name);
}
