/* What travels between the parts of a picture that is laid out by the page: in a straight line from
   the middle of one to the middle of another, beat by beat, as movement.js has it for the drawing. */
const CARRIES = { duration: 0, easing: "ease-in-out", fill: "both" };

/* The legs of these that are on their way in a beat, each a promise that ends with it. */
export function between(stage, vehicles, legs, milliseconds) {
  return legs.map((leg) => {
    const [from, to] = [leg.dataset.from, leg.dataset.to].map((name) => middle(stage, name));
    if (!from || !to) return Promise.resolve();
    const vehicle = document.createElement("div");
    vehicle.className = `vehicle ${leg.dataset.carrier}`;
    vehicle.textContent = leg.textContent;
    vehicles.append(vehicle);
    const edges = vehicles.getBoundingClientRect();
    const [width, height] = [vehicle.offsetWidth, vehicle.offsetHeight];
    const frames = [from, to].map(({ x, y }) => {
      const left = Math.max(0, Math.min(x - edges.left - width / 2, edges.width - width));
      return { transform: `translate(${left}px, ${y - edges.top - height / 2}px)` };
    });
    return vehicle.animate(frames, { ...CARRIES, duration: milliseconds }).finished.catch((reason) => {
      if (reason.name !== "AbortError") throw reason;
    });
  });
}

function middle(stage, name) {
  const box = stage.querySelector(`[data-spot="${name}"]`)?.getBoundingClientRect();
  return box && { x: box.left + box.width / 2, y: box.top + box.height / 2 };
}
