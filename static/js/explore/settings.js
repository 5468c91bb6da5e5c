/* The buttons of the settings say how things are now. */
const button = (name) => document.getElementById(`control-${name}`);

export function drawSettings(facts) {
  document.getElementById("speed-now").textContent = `speed ${facts.speed}`;
  button("movement").textContent = `Movement: ${facts.movement}`;
  button("depth").textContent = facts.depth === "phases" ? "Steps: phases" : "Steps: all";
  button("base").textContent = `Numbers: ${facts.baseName}`;
}
