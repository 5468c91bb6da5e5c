/* The board's page: what happens when a new frame has come in, and the local controls. */
import { announce } from "../announce.js";
import { listenToKeys } from "../keys.js";
import { show, finish } from "../movement.js";
import { setUpHelp, setUpTheme, wakeControls } from "../controls.js";
import { watchConnection } from "../connection.js";
import { setUpInvitation } from "./invitation.js";
import { setUpWhatIf } from "./what_if.js";
import { bringsFrame } from "../messages.js";
import { watchSpacing } from "../spacing.js";

const stage = document.getElementById("stage");

document.addEventListener("htmx:before:sse:message", (event) => {
  if (bringsFrame(event)) finish();
});
document.addEventListener("htmx:after:sse:message", (event) => {
  if (!bringsFrame(event)) return;
  show(stage);
  announce(stage);
});
addEventListener("resize", finish);

listenToKeys();
setUpTheme();
watchSpacing(stage);
setUpHelp();
setUpInvitation();
setUpWhatIf(stage);
wakeControls();
watchConnection(stage);
