/* The board's page: what happens when a new frame has come in, and the local controls. */
import { listenToKeys } from "../keys.js";
import { setUpHelp, setUpTheme, wakeControls } from "../controls.js";
import { watchConnection } from "../connection.js";
import { followStream } from "./frames.js";
import { setUpInvitation } from "./invitation.js";
import { setUpWhatIf } from "./what_if.js";
import { watchSpacing } from "../spacing.js";

const stage = document.getElementById("stage");

followStream();
listenToKeys();
setUpTheme();
watchSpacing(stage);
setUpHelp();
setUpInvitation();
setUpWhatIf(stage);
wakeControls();
watchConnection(stage);
