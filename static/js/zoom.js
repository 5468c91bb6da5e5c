/* The zoom of a scale scene: the width of the view changes evenly in powers, from one station to
   the next, and stations and scale bar keep to it all the way. The frame already shows the end. */
const still = matchMedia("(prefers-reduced-motion: reduce)");
let stop = null;

export function finishZoom() {
  stop?.();
}

export function zoom(frame) {
  finishZoom();
  const section = frame.querySelector(".zoom");
  if (!section || still.matches || frame.dataset.went !== "on" || !frame.dataset.moves) return;
  const [from, to] = [Number(section.dataset.viewBefore), Number(section.dataset.view)];
  if (from === to) return;
  const milliseconds = Number(section.dataset.milliseconds) / Number(frame.dataset.moves);
  const start = performance.now();
  let request;
  const draw = (now) => {
    // A late painting is told the time it should have come at, which may be before the start.
    const part = Math.min(Math.max((now - start) / milliseconds, 0), 1);
    const eased = part * part * (3 - 2 * part);
    show(section, from * (to / from) ** eased);
    if (part < 1) request = requestAnimationFrame(draw);
    else stop = null;
  };
  stop = () => {
    cancelAnimationFrame(request);
    show(section, to);
    stop = null;
  };
  draw(start);
}

function show(section, view) {
  const { room, next, smallest, largest, longestBar } = section.dataset;
  const present = view / Number(room);
  for (const station of section.querySelectorAll(".station")) {
    const share = Number(station.dataset.length) / view;
    station.setAttribute("transform", `scale(${100 * share})`);
    station.toggleAttribute("display", false);
    station.classList.toggle("now", Math.abs(Math.log(station.dataset.length / present)) < 0.5);
    // One that is only a little smaller would cover the present one; it comes in at its own turn.
    const length = Number(station.dataset.length);
    const covers = length > present / Number(next) && length < present * 0.99;
    if (share < Number(smallest) || share > Number(largest) || covers) station.setAttribute("display", "none");
  }
  const bars = [...section.querySelectorAll(".bar")];
  const fitting = bars.filter((bar) => Number(bar.dataset.length) / view <= Number(longestBar) * 1.0001);
  const longest = fitting.at(-1) ?? bars[0];
  for (const bar of bars) {
    if (bar === longest) bar.removeAttribute("display");
    else bar.setAttribute("display", "none");
  }
  const size = (100 * Number(longest.dataset.length)) / view;
  longest.querySelector(".bar-line").setAttribute("width", size);
  longest.querySelector(".bar-back").setAttribute("width", size + 2);
  section.querySelector(".bar-text").textContent = longest.dataset.text;
  name(section, present);
}

/* What is named is the station that is nearest to the view, by how many times, all the way. */
function name(section, length) {
  const rungs = [...section.querySelectorAll(".ladder li")];
  if (!rungs.length) return;
  const far = (rung) => Math.abs(Math.log(Number(rung.dataset.length) / length));
  const nearest = rungs.reduce((one, other) => (far(other) < far(one) ? other : one));
  for (const rung of rungs) {
    rung.classList.toggle("now", rung === nearest);
    rung.classList.toggle("passed", Number(rung.dataset.length) > Number(nearest.dataset.length));
  }
  section.querySelector(".station-name").textContent = nearest.dataset.name;
  section.querySelector(".station-length").textContent = nearest.dataset.text;
}
