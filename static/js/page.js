/* Pages beside the board: only the theme. */
import { setUpTheme } from "./controls.js";

setUpTheme();
