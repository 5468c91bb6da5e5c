/* The preview of a lesson that is being written: the board follows the saved file. */
import { announce } from "../announce.js";
import { setUpTheme } from "../controls.js";
import { listenToKeys } from "../keys.js";
import { finish, show } from "../movement.js";

const stage = document.getElementById("stage");

document.addEventListener("htmx:before:swap", finish);
document.addEventListener("htmx:after:swap", () => {
  show(stage);
  announce(stage);
});
addEventListener("resize", finish);

listenToKeys();
setUpTheme();
