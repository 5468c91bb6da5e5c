/* The board's page: what happens when a new frame has come in, and the local controls. */
import { announce } from "./announce.js";
import { listenToKeys } from "./keys.js";
import { show, finish } from "./movement.js";
import { setUpHelp, setUpTheme, wakeControls } from "./controls.js";
import { watchConnection } from "./connection.js";

const stage = document.getElementById("stage");

document.addEventListener("htmx:before:sse:message", finish);
document.addEventListener("htmx:after:sse:message", () => {
  show(stage);
  announce(stage);
});
addEventListener("resize", finish);

listenToKeys();
setUpTheme();
setUpHelp();
wakeControls();
watchConnection(stage);
