/* The timeline of instructions under the board, and what is said about the end of the run. */
const range = document.getElementById("timeline");
const label = document.getElementById("timeline-label");
const give = document.getElementById("give");
const forward = document.getElementById("control-forward");
const further = document.getElementById("further");

export function drawTimeline(facts) {
  const { at, count, ends, waits } = facts;
  range.max = count;
  // While it is being dragged it knows better than the answer to an earlier place.
  if (!range.matches(":active")) range.value = at;
  label.textContent = `Instruction ${at} of ${count}${ends}`;
  range.disabled = count === "0";
  // What goes must not take the keyboard's place with it.
  const leaving = [!waits && give, !facts.further && further].filter(Boolean);
  if (leaving.some((each) => each.contains(document.activeElement))) forward.focus();
  give.hidden = !waits;
  further.hidden = !facts.further;
}
