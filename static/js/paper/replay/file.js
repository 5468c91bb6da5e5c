/* The replay as a file by itself. */
import { start } from "./replay.js";

start();
