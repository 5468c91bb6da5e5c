/* Marks the choice that this pupil has answered. The server says which one it took; here it is
   only shown, and forgotten once the board has another question or another round. */
export function markAnswer() {
  const mine = document.getElementById("mine");
  const taken = mine.querySelector("[data-poll]");
  const now = document.getElementById("frame").dataset.poll ?? "";
  const same = taken && now.startsWith(`${taken.dataset.poll}-`);
  if (taken && !same) mine.replaceChildren();
  for (const button of document.querySelectorAll(".choose")) {
    const pressed = Boolean(same) && button.value === taken.dataset.choice;
    button.setAttribute("aria-pressed", String(pressed));
  }
}
