/* The page on which a lesson is written: the text at one side, the board at the other.

   The server has the draft. Whatever happens is sent to it with the text where that has changed,
   one thing after the other, and what the page shows then comes back. */
import { announce } from "../announce.js";
import { setUpTheme } from "../controls.js";
import { cursorLine, drawMarks, followLine, setUpEditor, toLine } from "../editor.js";
import { get, set } from "../kept.js";
import { listenToKeys } from "../keys.js";
import { finish, show } from "../movement.js";
import { sendOnce } from "../once.js";
import { parse, put } from "../screen.js";
import { setUpPanel } from "./panel.js";
import { followRun, goToRun, setUpRun } from "./run.js";
import { watchFile } from "./outside.js";
import { send, setUpSending, typedSince, versionSeen } from "./sending.js";
import { dress } from "./dress.js";
import { placesOf, rowsOf } from "./wrapped.js";

const TYPING_MILLISECONDS = 350;
const CURSOR_MILLISECONDS = 200;

const main = document.getElementById("writing");
const area = document.getElementById("text");
const stage = document.getElementById("stage");
const screen = document.getElementById("screen");
const note = document.getElementById("note");
let place = JSON.parse(main.dataset.sent);
let chosen = false; // a whole phase, in the run at a glance, and not the last of its movements
let lineThen = 1;
let timer;

/* Puts in what has come back. */
function take(answer, what) {
  if (!answer.wrong) panel.settled(what);
  const changed = answer.text === undefined ? null : replaceText(answer.text);
  if (answer.machine && place.machine !== answer.machine) dress();
  const moved = ["scene", "step", "said"].some((name) => place[name] !== answer[name]);
  const other = place.scene !== answer.scene;
  place = { ...answer, around: moved ? 0 : place.around, whole: chosen || (!moved && place.whole) };
  chosen = false;
  const unfolded = document.getElementById("parts-fold")?.open;
  for (const name of ["here", "problems", "run"]) put(document.getElementById(name), parse(answer[name]));
  document.getElementById("parts-fold")?.toggleAttribute("open", Boolean(unfolded));
  document.getElementById("kept").innerHTML = answer.words;
  document.getElementById("title").textContent = answer.title;
  if (answer.screen) {
    finish();
    put(screen, parse(answer.screen));
    // What has only been rewritten does not move once more.
    if (!moved) document.querySelector("#movement")?.replaceChildren();
    show(stage);
    announce(stage);
  }
  settings();
  if (moved) followRun();
  drawMarks(answer.marks);
  if (changed !== null && (what === "undo" || what === "redo")) toPlace(changed);
  else if (answer.line) toLine(answer.line, 1, 0, false);
  else if (moved) followLine();
  lineThen = cursorLine();
  tell(answer);
  if (moved && !answer.done) panel.follow(other);
}

/* Puts another text in, with the cursor between the letters between which it was. Answers where what
   differs ends in it. */
function replaceText(text) {
  const { value, selectionStart, selectionEnd, scrollTop, scrollLeft } = area;
  const most = Math.min(value.length, text.length);
  let at = 0;
  while (at < most && value[at] === text[at]) at += 1;
  let alike = 0;
  while (alike < most - at && value.at(-1 - alike) === text.at(-1 - alike)) alike += 1;
  const end = text.length - alike;
  const now = (place) => (place <= at ? place : Math.max(place + text.length - value.length, end));
  area.value = text;
  area.setSelectionRange(now(selectionStart), now(selectionEnd));
  Object.assign(area, { scrollTop, scrollLeft });
  return end;
}

/* Brings a place of the text into sight, counted in letters, with the cursor in it. */
function toPlace(place) {
  const before = area.value.slice(0, place).split("\n");
  toLine(before.length, before.at(-1).length + 1, 0, false);
}

function settings() {
  document.getElementById("undo").disabled = !place.undo;
  document.getElementById("redo").disabled = !place.redo;
  // These still answer, in words, where nothing comes of them.
  for (const id of ["say", "ask"]) looksOff(id, !place.writable);
  // Once somebody has chosen there, a list goes by what was chosen, and not by what it came with.
  for (const each of document.querySelectorAll("#speed option")) each.selected = each.defaultSelected;
  looksOff("way-forward", place.over);
}

function looksOff(id, off) {
  document.getElementById(id).setAttribute("aria-disabled", off);
}

function tell(answer) {
  const words = answer.wrong ? `${answer.wrong} ${answer.mend}`
    : answer.saved ? "Saved."
    : answer.done ? `${answer.told} Undo takes it back.`
    : answer.outside ? "Another program has changed the file of this lesson. Save to see both."
    : "";
  if (answer.wrong || answer.saved || answer.done || answer.outside || note.dataset.error) note.textContent = words;
  note.classList.toggle("wrong", Boolean(answer.wrong));
  delete note.dataset.error;
}

setUpSending({
  address: main.dataset.address,
  version: Number(main.dataset.version),
  area,
  place: () => place,
  take,
  fail: (words) => {
    note.textContent = words;
    note.classList.add("wrong");
    note.dataset.error = "yes";
  },
});
const panel = setUpPanel({ note });

/* Does something that was asked for: where the cursor was a moment ago does not matter then. */
function act(what, more) {
  clearTimeout(timer);
  note.textContent = ""; // what it says is of what was done before
  return send(what, more);
}

// Typing, and where the cursor goes.

area.addEventListener("input", () => {
  note.textContent = "";
  warned = false;
  document.querySelector("#kept .saved")?.replaceChildren("Changed just now, not saved.");
  clearTimeout(timer);
  timer = setTimeout(() => send("now"), TYPING_MILLISECONDS);
});

function cursorMoved() {
  const line = cursorLine();
  if (document.activeElement !== area || line === lineThen || typedSince()) return;
  clearTimeout(timer);
  timer = setTimeout(() => {
    lineThen = cursorLine();
    send("now", { line: lineThen });
  }, CURSOR_MILLISECONDS);
}

/* A new line of a program starts below the one before; the one that ends it stands at the margin. */
area.addEventListener("input", (event) => {
  if (event.data === "`") {
    const start = area.value.lastIndexOf("\n", area.selectionStart - 1) + 1;
    const line = area.value.slice(start, area.selectionStart);
    if (/^[ \t]+```$/.test(line)) area.setRangeText("```", start, area.selectionStart, "end");
  }
  if (event.inputType !== "insertLineBreak") return;
  const before = area.value.slice(0, area.selectionStart - 1);
  const fences = before.match(/^```.*$/gm) ?? [];
  const inProgram = fences.length % 2 && /^```(program|solution|change)\b/.test(fences.at(-1));
  const [indent] = before.slice(before.lastIndexOf("\n") + 1).match(/^[ \t]*/);
  if (inProgram && indent) area.setRangeText(indent, area.selectionStart, area.selectionEnd, "end");
});

/* The last letters are sent when the page is left. The next page may be made before they arrive, or
   nobody may answer: so they are kept here, too, for when this lesson is opened next. */
const LEFT = `left ${location.pathname}`;

function leave(event) {
  if (!typedSince()) return;
  clearTimeout(timer);
  const kept = set(LEFT, JSON.stringify({ version: versionSeen(), text: area.value }));
  if (!kept) event.preventDefault(); // whoever leaves is asked first, where that can still be
  send("now", {}, true);
}
addEventListener("beforeunload", leave);
addEventListener("pagehide", leave);

/* Letters that were left behind, of the very text that this page has got. */
function takeUpLeft() {
  const { version, text } = JSON.parse(get(LEFT) ?? "{}");
  set(LEFT, null);
  if (version !== versionSeen() || text === area.value) return;
  area.value = text;
  send("now");
}

// Keys that work in the text as well.

const KEYS = {
  "Ctrl+s": () => press("save"),
  // Not by their buttons: what was typed a moment ago does not show there yet.
  "Ctrl+z": () => act("undo"),
  "Ctrl+y": () => act("redo"),
  "Ctrl+Shift+z": () => act("redo"),
  "Ctrl+Enter": () => press("say"),
  "Ctrl+Shift+Enter": () => press("ask"),
  "Alt+ArrowRight": () => press("way-forward"),
  "Alt+ArrowLeft": () => press("way-back"),
};

function press(id) {
  document.getElementById(id).click();
}

document.addEventListener("keydown", (event) => {
  const other = event.target.closest("input, textarea, select");
  const held = `${event.ctrlKey || event.metaKey ? "Ctrl+" : ""}${event.altKey ? "Alt+" : ""}${event.shiftKey ? "Shift+" : ""}`;
  const key = held + (event.key.length === 1 ? event.key.toLowerCase() : event.key);
  if (!KEYS[key] || (other && other !== area && key !== "Ctrl+s")) return;
  event.preventDefault();
  KEYS[key]();
});
// Where undoing is asked for by a menu: the way back is the page's own, for all that was done.
area.addEventListener("beforeinput", (event) => {
  if (!/^history/.test(event.inputType)) return;
  event.preventDefault();
  act(event.inputType === "historyUndo" ? "undo" : "redo");
});

for (const what of ["undo", "redo", "save"]) {
  document.getElementById(what).addEventListener("click", () => act(what));
}
document.addEventListener("click", (event) => {
  const button = event.target.closest("button[data-way], button[data-panel], button[data-change]");
  if (!button) return;
  const { way, panel: name, change, part, at, was } = button.dataset;
  if (way) move(way);
  else if (name) {
    clearTimeout(timer);
    note.textContent = ""; // as where something is done
    panel.open(name, at, was);
  } else if (at && event.detail > 1) return; // of a double press: something else stands there now
  else point({ change, ...(part ? { part } : {}), ...(at ? { at: Number(at), was } : {}) });
});
document.addEventListener("change", (event) => {
  if (event.target.id === "speed") point({ change: "pace", speed: event.target.value });
});

/* What is on its way is not done, or taken back, once more by a second press. */
const underWay = new Set();
async function point(what) {
  const name = JSON.stringify(what);
  if (underWay.has(name)) return;
  underWay.add(name);
  try {
    await act("do", what);
  } finally {
    underWay.delete(name);
  }
}

async function move(way) {
  const { scene, step, said } = place;
  await act("move", { way });
  const still = scene === place.scene && step === place.step && said === place.said;
  if (way === "forward" && place.over && still) note.textContent = "The scene ends here.";
}

// What is taught is what was saved: whether that is enough is the teacher's choice.
let warned = false;
document.getElementById("teach").addEventListener("submit", (event) => {
  if (warned || !(place.unsaved || place.gone || typedSince())) return;
  event.preventDefault();
  warned = true;
  note.textContent = "Not everything is saved, and the class sees what was saved last. Save first, or press Teach again to teach that version.";
});

function partAt(target) {
  const bus = target.closest(".bus");
  if (bus) return `${["address", "data", "control"].find((each) => bus.classList.contains(each))} bus`;
  if (target.closest("#stage [data-address]")) return "memory";
  if (target.closest(".store")) return "store";
  return target.closest("[data-place]")?.dataset.place;
}

// A part that is pointed at on the board leaves it from here on; the buttons below bring it back.
stage.addEventListener("click", (event) => {
  const part = partAt(event.target);
  if (part && document.querySelector(`[data-part="${part}"]`)) point({ change: "point", part });
});
addEventListener("resize", finish);

watchFile(`${main.dataset.address}/seen`, {
  // Until somebody has chosen one of two versions, asking again would only tear them open again.
  quiet: () => panel.isTorn(),
  seen: () => place,
  changed: async (found, isAnother) => {
    await send("now");
    if (isAnother && !found.outside && !panel.isTorn()) note.textContent = "The text was changed elsewhere: this is how it is now.";
  },
});
document.addEventListener("click", (event) => {
  if (event.target.closest("[data-glance]")) goToRun();
});
setUpRun({
  go: (step) => {
    chosen = true;
    return act("now", { step, said: 0 });
  },
  turn: (number) => {
    place.around = number;
    return act("now");
  },
});
setUpEditor({
  pressed: () => act("now", { line: cursorLine() }),
  left: () => document.getElementById("way-forward").focus(),
  moved: cursorMoved,
  warnings: true,
  wraps: { placesOf, rowsOf },
});
setUpTheme();
sendOnce();
listenToKeys();
settings();
drawMarks(place.marks);
takeUpLeft();
