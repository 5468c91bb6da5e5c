/* The replay: the board's frames, shown from the recording with the board's own movement. */
import { announce } from "../../announce.js";
import { setUpHelp, setUpTheme } from "../../controls.js";
import { listenToKeys } from "../../keys.js";
import { finish, mirror, show } from "../../movement.js";
import { say, setUpSpeech, spoken, wordsOf } from "../../speech.js";
import { close, look, showOpen } from "./inside.js";
import { ask, result, waiting } from "./questions.js";
import { canRead, frameOf, readTape } from "./tape.js";

const READING_MILLISECONDS_A_WORD = 230;
const WITHOUT_MOVEMENT_MILLISECONDS = 1200;
const BETWEEN_SCENES_MILLISECONDS = 2000;
const TOO_OLD = "This browser is too old to unpack the replay. Open it in a newer one.";
const LEFT_OUT = "The lesson has more scenes, which are not in this file.";
const CUT = "The replay of this scene stops here, to keep the file small. The scene itself goes on.";

const stage = document.getElementById("stage");
const screen = document.getElementById("screen");
const place = document.getElementById("place");
const chooser = document.getElementById("scene");
const note = document.getElementById("note");
const control = (name) => document.getElementById(`control-${name}`);

let tape = null;
let scene = 0;
let at = 0;
let speed = 1;
let moves = true;
let sentence = "";
// The question that is shown, also once it is answered; null for none.
let shown = null;
// What plays now; another value, or null, tells it to stop.
let playing = null;

const frames = () => tape.scenes[scene].frames;
const last = () => frames().length - 1;
const isEnd = () => at === last() && scene === tape.scenes.length - 1;
const frame = () => document.getElementById("frame");

/* Who else is told where the replay is; nobody where it is a file by itself. */
let moved = () => {};

function tell(words) {
  note.textContent = words;
  note.hidden = !words;
}

/* Puts in the frame of this place, with what is open in it; else with the question that waits. */
function put(opened, moving, after = null) {
  finish();
  screen.innerHTML = frameOf(tape, scene, at);
  const now = frame();
  showOpen(now, tape, tape.scenes[scene].inside[at]);
  mirror(stage);
  if (moving && moves) {
    if (speed !== 1) hurry(now);
    show(stage);
  }
  sentence = now.querySelector(".sentence").textContent;
  const question = opened ? null : waiting(tape, scene, at, after);
  shown = question;
  if (question) {
    const more = waiting(tape, scene, at, question) !== null;
    ask(now, scene, question, more, () => resumeAfter(question));
  }
  announce(stage);
  say(question ? now.querySelector(".sentence").textContent : wordsOf(now), speed);
}

/* Shows a frame. on: it follows the one before, so what happened in between is shown moving. */
function go(to, on = false) {
  close();
  at = Math.max(0, Math.min(to, last()));
  tell(at === last() ? lastWords(tape.scenes[scene]) : "");
  put(null, on);
  place.max = last();
  place.value = at;
  place.ariaValueText = frame().querySelector(".position").textContent;
  moved(scene, at, isEnd());
}

/* A part of the machine opened, one level further or back; the frame stays the same. */
function lookInto(name) {
  const opened = look(name, tape.scenes[scene].inside[at]);
  if (opened?.why !== undefined) return tell(tape.lines[opened.why]);
  tell("");
  put(opened, opened?.fresh);
}

/* What there is to say at the end of a scene: that it was cut, or what to do now; at the end of the
   lesson also how many questions were right. */
function lastWords({ cut, task }) {
  const words = [cut ? CUT : task ? `Your turn: ${task}` : ""];
  if (isEnd()) words.push(tape.leftOut ? LEFT_OUT : "", result(tape));
  return words.filter(Boolean).join(" ");
}

/* A frame says how long its movement takes at the usual pace. */
function hurry(now) {
  now.dataset.beat = Number(now.dataset.beat) / speed;
  if (now.dataset.moves) now.dataset.moves = Number(now.dataset.moves) * speed;
}

function goToScene(number, to = 0) {
  scene = Math.max(0, Math.min(number, tape.scenes.length - 1));
  if (chooser) chooser.value = scene;
  go(to);
}

/* One step on, into the next scene after the last step; false at the end of the lesson. */
function forward() {
  // While the answer to a question is on its way, it is shown first.
  if (!playing && isAnswerMoving()) {
    finish();
    return true;
  }
  // Of several questions at this place the next one.
  if (shown && waiting(tape, scene, at, shown)) {
    put(null, false, shown);
    return true;
  }
  if (at < last()) {
    go(at + 1, true);
    return true;
  }
  if (scene === tape.scenes.length - 1) return false;
  goToScene(scene + 1);
  return true;
}

function isAnswerMoving() {
  const moving = frame().classList.contains("moving");
  return moving && tape.scenes[scene].questions.some(({ known }) => known === at);
}

function back() {
  if (at > 0) go(at - 1);
  else if (scene > 0) goToScene(scene - 1, Infinity);
}

/* The last frame of the group that comes next: same(a, b) tells that two frames are of one. */
function endOfNext(same) {
  let to = Math.min(at + 1, last());
  while (to < last() && same(to, to + 1)) to += 1;
  return to;
}

const sameInstruction = (a, b) => tape.scenes[scene].cycles[a] === tape.scenes[scene].cycles[b];
const samePhase = (a, b) => sameInstruction(a, b) && tape.scenes[scene].phases[a] === tape.scenes[scene].phases[b];

function startOfInstruction() {
  let to = at - 1;
  while (to > 0 && sameInstruction(to, at)) to -= 1;
  return to;
}

const wait = (milliseconds) => new Promise((resolve) => { setTimeout(resolve, milliseconds); });

async function play() {
  const mine = {};
  playing = mine;
  stoppedFor = null;
  showPlaying();
  while (playing === mine) {
    const sceneBefore = scene;
    const sentenceBefore = sentence;
    if (at === last()) await wait(BETWEEN_SCENES_MILLISECONDS / speed);
    if (playing !== mine || !forward()) break;
    const words = sentence === sentenceBefore && scene === sceneBefore ? 0 : sentence.split(" ").length;
    const moving = moves ? tape.scenes[scene].paces[at] : WITHOUT_MOVEMENT_MILLISECONDS;
    await wait(Math.max(moving, words * READING_MILLISECONDS_A_WORD) / speed);
    await spoken();
    if (waiting(tape, scene, at) || tape.scenes[scene].pauses.includes(at)) break;
  }
  // Whoever has pressed another key meanwhile goes on alone.
  if (playing !== mine) return;
  stop();
  stoppedFor = shown;
}

function stop() {
  playing = null;
  stoppedFor = null;
  showPlaying();
}

function showPlaying() {
  control("play").textContent = playing ? "Pause" : "Play";
  control("play").ariaPressed = String(Boolean(playing));
}

/* The question was come to while playing: once it is answered the replay goes on by itself. */
let stoppedFor = null;

async function resumeAfter(question) {
  if (stoppedFor !== question) return;
  await wait(1500);
  if (stoppedFor === question && !playing) play();
}

function toggle() {
  if (playing) return stop();
  if (at === last() && scene === tape.scenes.length - 1) goToScene(0);
  play();
}

function setSpeed(by) {
  const { speeds } = tape;
  speed = speeds[Math.max(0, Math.min(speeds.indexOf(speed) + by, speeds.length - 1))];
  document.getElementById("speed").textContent = `${speed}×`;
}

/* A person moves: playing is over. */
function press(name, action) {
  control(name).addEventListener("click", () => {
    stop();
    action();
  });
}

/* Whoever has pointed at a list or a slider goes on with the keys of the page: it must not take the
   next arrow, nor a clicker's Page Down. Who has come there with the keyboard stays. */
function letGoOf(chosen) {
  let pointed = false;
  chosen.addEventListener("pointerdown", () => { pointed = true; });
  chosen.addEventListener("keydown", () => { pointed = false; });
  chosen.addEventListener("change", () => {
    if (pointed) chosen.blur();
  });
}

function setUp() {
  press("forward", forward);
  press("back", back);
  press("restart", () => go(0));
  press("phase", () => go(endOfNext(samePhase)));
  press("instruction", () => go(endOfNext(sameInstruction)));
  press("instruction-back", () => go(startOfInstruction()));
  press("scene-on", () => goToScene(scene + 1));
  press("scene-back", () => goToScene(scene - 1));
  for (const name of ["alu", "out", "column-left", "column-right", "signals"]) press(name, () => lookInto(name));
  control("play").addEventListener("click", toggle);
  control("slower").addEventListener("click", () => setSpeed(-1));
  control("faster").addEventListener("click", () => setSpeed(1));
  control("movement").addEventListener("click", () => {
    moves = !moves;
    control("movement").ariaPressed = String(moves);
    finish();
  });
  control("movement").ariaPressed = "true";
  control("about").addEventListener("click", () => document.getElementById("about").showModal());
  place.addEventListener("input", () => {
    stop();
    go(Number(place.value));
  });
  chooser?.addEventListener("change", () => {
    stop();
    goToScene(Number(chooser.value));
  });
  for (const each of [place, chooser]) if (each) letGoOf(each);
  addEventListener("resize", finish);
  setUpSpeech(control("voice"), tell, () => wordsOf(frame()));
  setUpTheme();
  setUpHelp();
  listenToKeys();
  showPlaying();
}

/* Plays the lesson that is in this file. A platform that keeps what a pupil did gets the tape, says
   where to begin, and is told of every frame that is shown. */
export function start(platform = null) {
  if (!canRead()) {
    tell(TOO_OLD);
    return;
  }
  readTape().then((read) => {
    tape = read;
    setUp();
    const place = platform?.begin(tape, tell) ?? { scene: 0, at: 0 };
    if (platform) moved = platform.moved;
    goToScene(place.scene, place.at);
    if (place.words) tell(place.words);
    document.body.dataset.ready = "";
  });
}
