/* The words of a step, spoken by the browser's own speech where somebody asks for it.

   Whoever plays waits for spoken(), so that no step comes before the words of the last are out.
   A browser without a voice says so once, and everything else goes on as before. */
const LONGEST_WAIT_FOR_VOICES = 1500;
const NO_VOICE = "This browser has no voice to read with. The words stay where they are: under the machine.";

const synthesis = window.speechSynthesis;
let on = false;
let speaking = Promise.resolve();
// Kept here because browsers forget an utterance that nobody holds, and its end is never told.
let utterance = null;
let said = "";

/* A button that switches speech on and off; note(words) shows what must be known. */
export function setUpSpeech(button, note, words) {
  button.ariaPressed = "false";
  button.addEventListener("click", async () => {
    if (on) return hush(button);
    if (!(await hasVoice())) {
      button.disabled = true;
      note(NO_VOICE);
      return;
    }
    on = true;
    button.ariaPressed = "true";
    say(words());
  });
}

function hush(button) {
  on = false;
  said = "";
  button.ariaPressed = "false";
  synthesis.cancel();
}

/* Some browsers fetch their voices only once they are asked for. */
async function hasVoice() {
  if (!synthesis) return false;
  if (synthesis.getVoices().length) return true;
  await new Promise((resolve) => {
    synthesis.addEventListener("voiceschanged", resolve, { once: true });
    setTimeout(resolve, LONGEST_WAIT_FOR_VOICES);
  });
  return synthesis.getVoices().length > 0;
}

/* What to say of a frame: its sentence, or, where that stays the same, what the step itself did. */
export function wordsOf(frame) {
  const sentence = frame.querySelector(".sentence").textContent.trim();
  const plain = frame.querySelector(".detail .plain")?.textContent.trim() ?? "";
  return sentence === said ? plain : sentence;
}

/* Says words, at times the usual rate, in place of what is being said. */
export function say(words, rate = 1) {
  if (!on || !words) return;
  said = words;
  synthesis.cancel();
  utterance = new SpeechSynthesisUtterance(words.replaceAll("\u2212", "minus "));
  utterance.lang = "en-GB";
  utterance.rate = Math.min(Math.max(rate, 0.6), 1.6);
  // An end that is never told must not hold everything up: nobody takes so long over a word.
  const patience = 3000 + (1000 * words.split(" ").length) / utterance.rate;
  speaking = new Promise((resolve) => {
    utterance.addEventListener("end", resolve);
    utterance.addEventListener("error", resolve);
    setTimeout(resolve, patience);
  });
  synthesis.speak(utterance);
}

/* Resolves once nothing more is being said. */
export function spoken() {
  return on ? speaking : Promise.resolve();
}
