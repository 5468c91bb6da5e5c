/* A page made for paper: its print button. */
import { setUpTheme } from "../controls.js";

setUpTheme();
document.getElementById("print").addEventListener("click", () => print());
