/* The buttons of the settings say how things are now. */
const still = matchMedia("(prefers-reduced-motion: reduce)");
const button = (name) => document.getElementById(`control-${name}`);

export function drawSettings(facts) {
  document.getElementById("speed-now").textContent = `speed ${facts.speed}`;
  drawMovement(facts.movement);
  button("depth").textContent = facts.depth === "phases" ? "Steps: phases" : "Steps: all";
  button("base").textContent = `Numbers: ${facts.baseName}`;
}

/* Where the system asks for no movement nothing moves, whatever the button was set to. */
function drawMovement(movement) {
  button("movement").textContent = `Movement: ${still.matches ? "off" : movement}`;
  button("movement").ariaDisabled = String(still.matches);
  if (still.matches) button("movement").title = "This computer is set to show less movement.";
}
