/* Pages beside the board: the theme, and a form that is unfolded is typed into at once. */
import { setUpTheme } from "./controls.js";
import { sendOnce } from "./once.js";

setUpTheme();
sendOnce();
document.querySelector(".new-lesson")?.addEventListener("toggle", ({ target }) => {
  if (target.open) target.querySelector("input").focus();
});
