/* The movement: values travel along the routes of the drawing, beat by beat.

   The frame that has come in is already true: it holds the values after the step. While values
   travel, the frame has the class "moving" and shows the values before it instead. Whatever cuts
   a movement short only takes that class away, and the true state is there. */
import { finishZoom, zoom } from "./zoom.js";
import { follow, showOutcome } from "./sight.js";

const still = matchMedia("(prefers-reduced-motion: reduce)");
let stop = null;

/* Ends a movement at once. */
export function finish() {
  stop?.();
  finishZoom();
}

/* Shows the movement that the frame of this stage brings, if it brings one. */
export async function show(stage) {
  finish();
  const frame = stage.querySelector("#frame");
  zoom(frame);
  const legs = [...frame.querySelectorAll("#movement li")];
  const lines = [...stage.querySelectorAll(".lines")].find((each) => each.checkVisibility());
  if (!lines) return;
  if (!legs.length || still.matches) {
    showOutcome(frame, lines);
    return;
  }
  const vehicles = stage.querySelector("#vehicles");
  const scale = stage.clientWidth / lines.dataset.width;
  const milliseconds = Number(frame.dataset.beat);
  let going = true;
  const clear = () => {
    vehicles.replaceChildren();
    for (const way of lines.querySelectorAll(".way")) way.remove();
  };
  stop = () => {
    going = false;
    stop = null;
    clear();
    frame.classList.remove("moving", "worked");
    showOutcome(frame, lines);
  };

  frame.classList.add("moving");
  const beats = Math.max(...legs.map((leg) => Number(leg.dataset.beat)));
  for (let beat = 0; going && beat <= beats; beat += 1) {
    // What the ALU works out is seen once both of its values have come in.
    if (beat > 0) frame.classList.add("worked");
    const now = legs.filter((leg) => Number(leg.dataset.beat) === beat);
    await Promise.all(now.map((leg) => travel(leg, lines, vehicles, scale, milliseconds)));
    if (going) clear();
  }
  if (going) finish();
}

function travel(leg, lines, vehicles, scale, milliseconds) {
  const points = leg.dataset.routes.split(" ").flatMap((name) => {
    return [...lines.querySelector(`[data-route="${name}"]`).points];
  });
  lines.append(way(points));
  const vehicle = document.createElement("div");
  vehicle.className = `vehicle ${leg.dataset.carrier}`;
  vehicle.textContent = leg.textContent;
  vehicles.append(vehicle);
  const animation = vehicle.animate(keyframes(points, scale, vehicle), {
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

/* One keyframe a corner, so that the speed along the line is even. */
function keyframes(points, scale, vehicle) {
  const lengths = [0];
  for (let at = 1; at < points.length; at += 1) {
    const [from, to] = [points[at - 1], points[at]];
    lengths.push(lengths[at - 1] + Math.hypot(to.x - from.x, to.y - from.y));
  }
  const whole = lengths.at(-1) || 1;
  const [left, top] = [vehicle.offsetWidth / 2, vehicle.offsetHeight / 2];
  const furthest = vehicle.parentElement.clientWidth - vehicle.offsetWidth;
  return points.map((point, at) => {
    // A wide value on a line at the edge of the screen stays in sight.
    const x = Math.max(0, Math.min(point.x * scale - left, furthest));
    return { offset: lengths[at] / whole, transform: `translate(${x}px, ${point.y * scale - top}px)` };
  });
}
