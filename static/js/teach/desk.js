/* The teacher's own screen: the small board, and beside it what to say and when. */
import { setUpHelp, setUpTheme } from "../controls.js";
import { watchConnection } from "../connection.js";
import { followStream } from "./frames.js";
import { setUpInvitation } from "./invitation.js";
import { setUpWhatIf } from "./what_if.js";
import { listenToKeys } from "../keys.js";
import { watchSpacing } from "../spacing.js";

const stage = document.getElementById("stage");

followStream(() => document.body.dispatchEvent(new Event("frame")));

function tellTime() {
  const place = document.getElementById("elapsed");
  const seconds = Math.max(0, Math.floor(Date.now() / 1000 - Number(place.dataset.started)));
  place.textContent = `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
}

tellTime();
setInterval(tellTime, 1000);
document.addEventListener("htmx:after:swap", tellTime);

listenToKeys();
setUpTheme();
watchSpacing(stage);
setUpHelp();
setUpInvitation();
setUpWhatIf(stage);
watchConnection(stage);
