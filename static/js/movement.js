/* The movement: values travel along the routes of the drawing, beat by beat.

   The frame that has come in is already true: it holds the values after the step. While values
   travel, the frame has the class "moving" and shows the values before it instead. Whatever cuts
   a movement short only takes that class away, and the true state is there. */
import { between } from "./between.js";
import { finishZoom, zoom } from "./zoom.js";
import { follow, showOpened, showOutcome } from "./sight.js";

const still = matchMedia("(prefers-reduced-motion: reduce)");
let stop = null;

/* Ends a movement at once. */
export function finish() {
  stop?.();
  finishZoom();
}

/* Whether the answer to a question is seen as soon as what moves has come to its end. */
export function isBringingAnswer(stage) {
  return stage.querySelector("#frame.moving .question.known") !== null;
}

/* What the frame shows decides over the lines, which are beside it: the stage has its classes. */
export function mirror(stage) {
  const { className } = stage.querySelector("#frame");
  if (stage.dataset.frame !== className) stage.dataset.frame = className;
}

/* Shows the movement that the frame of this stage brings, if it brings one. */
export async function show(stage) {
  finish();
  mirror(stage);
  const frame = stage.querySelector("#frame");
  zoom(frame);
  showOpened(frame);
  const legs = [...frame.querySelectorAll("#movement li")];
  if (!legs.length || still.matches) {
    const seen = drawn(stage);
    if (seen) showOutcome(frame, seen);
    return;
  }
  const vehicles = stage.querySelector("#vehicles");
  const milliseconds = Number(frame.dataset.beat);
  // A leg without a way is a beat in which the bits in the ALU move: the style sheet moves them.
  const onBits = legs.filter((leg) => !leg.dataset.routes && !leg.dataset.from).map((leg) => Number(leg.dataset.beat));
  if (onBits.length) frame.style.setProperty("--bits", `${onBits.length * milliseconds}ms`);
  let going = true;
  let lines = null;
  const clear = () => {
    vehicles.replaceChildren();
    for (const way of lines?.querySelectorAll(".way") ?? []) way.remove();
  };
  stop = () => {
    going = false;
    stop = null;
    clear();
    frame.classList.remove("moving", "on-bits", "arrived");
    if (lines) showOutcome(frame, lines);
  };

  frame.classList.add("moving");
  const beats = Math.max(...legs.map((leg) => Number(leg.dataset.beat)));
  for (let beat = 0; going && beat <= beats; beat += 1) {
    // What is worked out is seen once its values have come in.
    for (const each of frame.querySelectorAll(".working[data-from]")) {
      each.classList.toggle("worked", beat >= Number(each.dataset.from));
    }
    if (onBits.includes(beat)) frame.classList.add("on-bits");
    const free = legs.filter((leg) => leg.dataset.from && Number(leg.dataset.beat) === beat);
    if (free.length) {
      await Promise.all(between(stage, vehicles, free, milliseconds));
      if (going) {
        clear();
        if (free.some((leg) => leg.dataset.carrier.includes("line"))) frame.classList.add("arrived");
      }
      continue;
    }
    const now = legs.filter((leg) => leg.dataset.routes && Number(leg.dataset.beat) === beat);
    // Everything is in the page before anything is measured: so it is laid out once.
    const loaded = now.map(load);
    vehicles.append(...loaded);
    lines ??= drawn(stage);
    // A part that is opened shows no lines, and then nothing travels on one.
    if (!lines && now.length) break;
    const width = vehicles.clientWidth;
    const sizes = loaded.map((each) => [each.offsetWidth, each.offsetHeight]);
    const travels = now.map((leg, at) => {
      const points = corners(leg, lines);
      lines.append(way(points));
      const frames = keyframes(points, width / lines.dataset.width, sizes[at], width);
      return travel(loaded[at], frames, milliseconds, lines);
    });
    if (onBits.includes(beat)) travels.push(new Promise((end) => setTimeout(end, milliseconds)));
    await Promise.all(travels);
    if (going) clear();
  }
  if (going) finish();
}

/* The drawing that is in sight; none where a scene shows something else. */
function drawn(stage) {
  return [...stage.querySelectorAll(".lines")].find((each) => each.checkVisibility());
}

/* What carries the value of a leg. */
function load(leg) {
  const vehicle = document.createElement("div");
  vehicle.className = `vehicle ${leg.dataset.carrier}`;
  vehicle.textContent = leg.textContent;
  return vehicle;
}

/* The corners of the way of a leg, in units of the drawing. */
function corners(leg, lines) {
  return leg.dataset[lines.dataset.form].split(" ").map((corner) => {
    const [x, y] = corner.split(",").map(Number);
    return { x, y };
  });
}

function travel(vehicle, frames, milliseconds, lines) {
  const animation = vehicle.animate(frames, {
    duration: milliseconds,
    easing: "ease-in-out",
    fill: "both",
  });
  follow(vehicle, animation, lines);
  // A vehicle that is taken away has its animation cancelled: that is an end like any other.
  return animation.finished.catch((reason) => {
    if (reason.name !== "AbortError") throw reason;
  });
}

/* The whole way of a value, lit while it travels. */
function way(points) {
  const line = document.createElementNS("http://www.w3.org/2000/svg", "polyline");
  line.setAttribute("class", "way");
  line.setAttribute("points", points.map((point) => `${point.x},${point.y}`).join(" "));
  return line;
}

/* One keyframe a corner, so that the speed along the line is even. A unit of the drawing is scale
   pixels; the size is the vehicle's own, the width the stage's. */
function keyframes(points, scale, size, width) {
  const lengths = [0];
  for (let at = 1; at < points.length; at += 1) {
    const [from, to] = [points[at - 1], points[at]];
    lengths.push(lengths[at - 1] + Math.hypot(to.x - from.x, to.y - from.y));
  }
  const whole = lengths.at(-1) || 1;
  const [left, top] = [size[0] / 2, size[1] / 2];
  const furthest = width - size[0];
  return points.map((point, at) => {
    // A wide value on a line at the edge of the screen stays in sight.
    const x = Math.max(0, Math.min(point.x * scale - left, furthest));
    return { offset: lengths[at] / whole, transform: `translate(${x}px, ${point.y * scale - top}px)` };
  });
}
