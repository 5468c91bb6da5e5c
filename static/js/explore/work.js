/* The pupil's work: the fields of one form, kept in this browser after every change.

   The server keeps nothing. What is in the form is what is sent with every press, and what is
   kept is enough to come back to the same step of the same program. */
import { get as stored, set as store } from "../kept.js";

const form = document.getElementById("work");
// The last one only where the machine can be interrupted.
const FIELDS = ["program", "inputs", "step", "limit", "depth", "base", "speed", "movement", "predict", "rung"]
  .filter((name) => form.elements[name]);
// What belongs to one program and its run; the others are how that is looked at.
const OF_A_RUN = ["program", "inputs", "step", "limit", "rung"];
const NAME = `explore/${form.dataset.key}`;

/* What the page came with: the lesson's own program and settings. */
const original = Object.fromEntries(FIELDS.map((name) => [name, form.elements[name].value]));
const extra = {};

export const machine = form.elements.machine.value;

export function field(name) {
  return form.elements[name];
}

export function get(name) {
  return form.elements[name].value;
}

export function set(values) {
  for (const [name, value] of Object.entries(values)) form.elements[name].value = value;
}

/* Things beside the form that are kept with it, such as the tally. */
export function remember(name, value) {
  extra[name] = value;
  keep();
}

export function recall(name) {
  return extra[name];
}

/* What this tab wrote last or found. Where something else is there, another tab wrote it. */
let seen = stored(NAME);

export function keep() {
  saveOther();
  const work = Object.fromEntries(FIELDS.map((name) => [name, get(name)]));
  seen = JSON.stringify({ ...work, lesson: lessonWork(), extra });
  write(NAME, seen);
}

/* Another tab has the same program open: its work is put aside before this one takes its place. */
function saveOther() {
  const there = stored(NAME);
  if (there === null || there === seen) return;
  seen = there;
  const other = parsed(there);
  if (!other) return;
  Object.assign(extra, { ...other.extra, ...extra });
  aside = readAside();
  if (same(other, mine()) || same(other, lessonWork()) || aside.some((each) => same(each, other))) return;
  putAside([{ program: other.program, inputs: other.inputs }, ...aside]);
  dispatchEvent(new Event("other-tab"));
}

function parsed(text) {
  try {
    return JSON.parse(text);
  } catch (error) {
    if (error instanceof SyntaxError) return null;
    throw error;
  }
}

function same(one, other) {
  return one.program === other.program && one.inputs === other.inputs;
}

function mine() {
  return { program: get("program"), inputs: get("inputs") };
}

function write(name, text) {
  // The work itself is still on the page.
  if (!store(name, text)) say("This browser cannot keep your work. Use Download before you leave.");
}

/* Puts back what was kept last time; answers whether there was anything. */
export function restore() {
  const text = stored(NAME);
  if (!text) return false;
  const work = parsed(text);
  if (!work) {
    say("What this browser had kept cannot be read, so here is the lesson's program.");
    return false;
  }
  // Of a program that the lesson has in another version now, and that was not changed here, nothing
  // is to be kept.
  const old = work.lesson && same(work, work.lesson) && !same(work.lesson, lessonWork());
  for (const name of FIELDS) {
    if (old && OF_A_RUN.includes(name)) continue;
    if (typeof work[name] === "string") form.elements[name].value = work[name];
  }
  Object.assign(extra, work.extra);
  return true;
}

/* Programs whose place another has taken, the latest first. They are here and, for a reload, in
   this browser. */
const MOST_ASIDE = 8;
let aside = readAside();

function readAside() {
  return [parsed(stored(`${NAME}/aside`)) ?? []].flat();
}

function putAside(works) {
  aside = works.slice(0, MOST_ASIDE);
  write(`${NAME}/aside`, JSON.stringify(aside));
}

export function hasAside() {
  return aside.length > 0;
}

/* Puts other work in the place of this one, which is put aside. */
export function exchange(work) {
  arrange(work, (mine, others) => [mine, ...others]);
}

/* Brings back what was put aside last; this one waits behind the others, so that they all come
   round in turn. */
export function bringBack() {
  saveOther();
  arrange(aside[0], (mine, others) => [...others, mine]);
}

function arrange(work, order) {
  const now = mine();
  // Another tab may have put something aside as well.
  const others = readAside().filter((each) => !same(each, now) && !same(each, work));
  putAside(same(now, work) ? others : order(now, others));
  replaceWork(work);
}

export function lessonWork() {
  return { program: original.program, inputs: original.inputs };
}

export function isChanged() {
  const lesson = lessonWork();
  return get("program") !== lesson.program || get("inputs") !== lesson.inputs;
}

/* The run is another one: nobody has come anywhere in it, nor made a request. */
export function startAfresh() {
  set({ step: "0" });
  if (form.elements.rung) set({ rung: "" });
}

/* A new program or new inputs: everything starts from the beginning. */
export function replaceWork(values) {
  startAfresh();
  set({ limit: original.limit, ...values });
  keep();
  field("program").dispatchEvent(new Event("changed-by-page"));
}

export function say(words) {
  // Only the words: there may be a button after them.
  document.getElementById("kept").firstChild.textContent = words;
}
