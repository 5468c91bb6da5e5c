/* The timeline of instructions under the board, and what is said about the end of the run. */
const range = document.getElementById("timeline");
const label = document.getElementById("timeline-label");
const give = document.getElementById("give");

const ENDINGS = {
  halted: "",
  limit: " (it has not stopped by then: look for a jump that is always taken)",
  waiting: " so far",
  "off memory": " (it runs past the end of memory)",
  "unknown code": " (it meets a word that is no instruction)",
};

export function drawTimeline(facts) {
  const { at, count, ending, waits } = facts;
  range.max = count;
  // While it is being dragged it knows better than the answer to an earlier place.
  if (!range.matches(":active")) range.value = at;
  const number = Number(count).toLocaleString("en");
  label.textContent = `Instruction ${at} of ${number}${ENDINGS[ending] ?? ""}`;
  range.disabled = count === "0";
  give.hidden = !waits;
}
