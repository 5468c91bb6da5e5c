/* The teacher's own screen: the small board, and beside it what to say and when. */
import { setUpHelp, setUpTheme } from "../controls.js";
import { watchConnection } from "../connection.js";
import { followStream } from "./frames.js";
import { setUpInvitation } from "./invitation.js";
import { setUpWhatIf } from "./what_if.js";
import { listenToKeys } from "../keys.js";
import { watchSpacing } from "../spacing.js";

const stage = document.getElementById("stage");

followStream();
document.addEventListener("htmx:after:sse:message", () => {
  tellTime();
  keepInSight();
});

/* The seconds that the lesson had gone on when the server told it last. Counted on from there: the
   clock of this computer may be another than the server's. */
let gone = null;
let since = 0;

function tellTime() {
  const place = document.getElementById("elapsed");
  if (place.dataset.gone !== gone) {
    gone = place.dataset.gone;
    since = performance.now();
  }
  const seconds = Math.floor(Number(gone) + (performance.now() - since) / 1000);
  place.textContent = `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
}

tellTime();
setInterval(tellTime, 1000);

/* The line of the list that the board stands at. A question on the board matters more: what is
   said of it, and the button that closes it, stand above the list. */
let line = null;
let poll = null;

function keepInSight() {
  const asked = document.getElementById("frame").dataset.poll ?? null;
  const here = asked ? null : document.querySelector(".agenda .here .item");
  if (asked && asked !== poll) document.getElementById("class-panel").scrollIntoView({ block: "nearest" });
  if (here && here.id !== line) here.scrollIntoView({ block: "nearest" });
  line = here?.id ?? null;
  poll = asked;
}

listenToKeys();
setUpTheme();
watchSpacing(stage);
setUpHelp();
setUpInvitation();
setUpWhatIf(stage);
watchConnection(stage);
