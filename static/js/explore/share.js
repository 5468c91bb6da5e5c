/* Ways for a program to leave this browser and come back: a link, a file. */
import { bringBack, exchange, field, get, hasAside, isChanged, lessonWork, machine, replaceWork, say } from "./work.js";

const kept = document.getElementById("kept");
const KEPT = kept.textContent;
const OTHER = "The one before";
const BOTH = "Another tab has a program here, too. Both are kept.";
const back = document.createElement("button");
let said = KEPT;
const LARGEST = 64_000;
// Of a program and its inputs, each letter written as six where it needs to be.
const MOST_UNPACKED = 6 * 2 * LARGEST + 16;

export function setUpSharing() {
  const on = (id, act) => document.getElementById(id).addEventListener("click", act);
  on("link", showLink);
  on("download", download);
  on("upload", () => document.getElementById("file").click());
  on("afresh", () => takeIn(lessonWork(), "This is the program as it was at first."));
  document.getElementById("file").addEventListener("change", upload);
  for (const name of ["program", "inputs"]) field(name).addEventListener("input", edited);
  // A link that is opened where the page is open already changes nothing of it but this.
  addEventListener("hashchange", openLink);
  // After what is said of an edit, which may have brought it to light.
  const both = () => offer(BOTH, OTHER);
  addEventListener("other-tab", () => setTimeout(both));
  back.type = "button";
  // It puts aside what is here by then, so nothing is lost by pressing it.
  back.addEventListener("click", () => {
    dropLink();
    bringBack();
    offer("The program that was here is kept too.", OTHER);
  });
  kept.append(" ", back);
  offer(KEPT, OTHER);
}

/* A link carries the program for which it was made, and no other. */
function dropLink() {
  document.getElementById("link-line").hidden = true;
}

/* Other work takes the place of this, which can be had back with one press. */
function takeIn(work, words) {
  dropLink();
  if (isChanged()) exchange(work);
  else replaceWork(work);
  offer(words, "Bring mine back");
}

/* Words about the work, and the button where other work has been put aside. */
function offer(words, label) {
  said = words;
  say(words);
  back.textContent = label;
  back.hidden = !hasAside();
}

/* What was said of the program before is not true of what is being written; that there is another
   one still is. */
function edited() {
  dropLink();
  if (said !== KEPT && said !== BOTH && kept.firstChild.textContent === said) offer(KEPT, OTHER);
}

async function pack(work) {
  const words = new Blob([JSON.stringify(work)]).stream();
  const out = new Response(words.pipeThrough(new CompressionStream("deflate-raw")));
  const bytes = new Uint8Array(await out.arrayBuffer());
  const letters = btoa(Array.from(bytes, (each) => String.fromCharCode(each)).join(""));
  return letters.replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "");
}

async function unpack(letters) {
  const text = atob(letters.replaceAll("-", "+").replaceAll("_", "/"));
  const bytes = Uint8Array.from(text, (each) => each.charCodeAt(0));
  const unpacked = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate-raw"));
  const reader = unpacked.pipeThrough(new TextDecoderStream()).getReader();
  let words = "";
  for (let part = await reader.read(); !part.done; part = await reader.read()) {
    words += part.value;
    // A short link may unpack to more than the page can hold.
    if (words.length > MOST_UNPACKED) throw new RangeError("too long");
  }
  return JSON.parse(words);
}

async function showLink() {
  const packed = await pack([get("program"), get("inputs")]);
  const link = new URL(location.href);
  if (link.pathname.endsWith("/explore/")) link.search = `?machine=${machine}`;
  link.hash = `p=${packed}`;
  const line = document.getElementById("link-line");
  const text = document.getElementById("link-text");
  line.hidden = false;
  text.value = link.href;
  text.select();
  // Only a page that was fetched securely, or from this computer, may write to the clipboard.
  if (!navigator.clipboard) return say("Copy the link with Ctrl and C.");
  try {
    await navigator.clipboard.writeText(link.href);
    say("The link is copied. Whoever opens it gets this program.");
  } catch (error) {
    say(`Copy the link with Ctrl and C (${error.name}).`);
  }
}

/* A link that brings a program is used once; then the address is plain again, so that a reload
   does not undo what was changed since. */
export async function openLink() {
  const found = location.hash.match(/^#p=([\w-]+)$/);
  if (!found) return;
  history.replaceState(null, "", location.pathname + location.search);
  let work;
  try {
    work = await unpack(found[1]);
  } catch (error) {
    return say(`This link is damaged, so the program in it cannot be read (${error.name}).`);
  }
  const [program, inputs] = Array.isArray(work) ? work : [];
  const fits = (each) => typeof each === "string" && each.length <= LARGEST;
  if (!fits(program) || !fits(inputs)) {
    return say("This link is damaged, so the program in it cannot be read.");
  }
  takeIn({ program, inputs }, "This program came with the link.");
}

/* Letters and digits of any script. */
function fileName(title) {
  const words = title.toLowerCase().match(/[\p{L}\p{M}\p{N}]+/gu);
  return words ? words.join("-") : "program";
}

function download() {
  const text = `; machine: ${machine}\n; inputs: ${get("inputs")}\n${get("program")}`;
  const anchor = document.createElement("a");
  anchor.href = URL.createObjectURL(new Blob([text], { type: "text/plain" }));
  anchor.download = `${fileName(document.title.split(" · ")[0])}.txt`;
  anchor.click();
  URL.revokeObjectURL(anchor.href);
  say("The program is in your downloads.");
}

/* What a machine's key says: "16-bit_index-register_stack" is the 16-bit machine with two parts. */
function called(key) {
  const [name, ...parts] = key.split("_");
  return parts.length ? `${name} machine with ${parts.join(" and ").replaceAll("-", " ")}` : `${name} machine`;
}

async function upload(event) {
  const [file] = event.target.files;
  if (!file) return;
  // The same file may be chosen again, once it has been changed.
  event.target.value = "";
  if (file.size > LARGEST) return say("That file is too large to be a program.");
  const text = (await file.text()).replaceAll("\r\n", "\n");
  const lines = text.split("\n");
  const head = {};
  for (;;) {
    const [, name, value] = (lines[0] ?? "").match(/^; (machine|inputs): ?(.*)$/) ?? [];
    // A second such line is a comment of the program's own.
    if (!name || name in head) break;
    head[name] = value;
    lines.shift();
  }
  const other = head.machine && head.machine !== machine;
  const words = other
    ? `This program was written for the ${called(head.machine)}; this is the ${called(machine)}.`
    : "The file is in the editor.";
  takeIn({ program: lines.join("\n"), inputs: head.inputs ?? "" }, words);
}
