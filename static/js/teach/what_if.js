/* What if? A place is chosen on the board or from a list, and another value typed for it. */
import { ask, refuse } from "./press.js";

export function setUpWhatIf(stage) {
  const dialog = document.getElementById("what-if");
  // While a change is on its way a second press makes no second one.
  let sending = false;

  async function open(place) {
    const { ok, text } = await ask(dialog.dataset.form);
    if (!ok) return refuse(text);
    dialog.innerHTML = text;
    dialog.showModal();
    const form = dialog.querySelector("form");
    // Without a machine there is nothing to choose.
    if (!form?.place) return;
    if (place !== undefined) form.place.value = place;
    (place === undefined ? form.place : form.value).focus();
  }

  document.getElementById("control-what-if").addEventListener("click", () => open());
  stage.addEventListener("click", (event) => {
    const spot = event.target.closest("[data-at], .register, .device[data-place=input]");
    if (spot) open(spot.dataset.at ?? spot.dataset.place);
  });
  dialog.addEventListener("submit", async (event) => {
    if (event.submitter?.value === "close") return;
    event.preventDefault();
    if (sending) return;
    sending = true;
    const body = new URLSearchParams(new FormData(event.target));
    const { ok, text } = await ask(dialog.dataset.change, { method: "POST", body });
    sending = false;
    if (ok) {
      // The field of a closed dialog would keep the next key until the page is drawn again.
      document.activeElement.blur();
      dialog.close();
    } else dialog.querySelector(".wrong").innerHTML = text;
  });
}
