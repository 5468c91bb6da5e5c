"""A voice for tests: it writes down what it is given to say, in ``window.heard``."""

# In the page, before its own scripts. ``window.holdBack`` is how long it takes over each sentence,
# in milliseconds; ``window.said`` has for each that has been said which step was on the board when
# it began and when it ended.
VOICE = """
window.heard = [];
window.said = [];
const shown = () => document.getElementById("frame")?.dataset.step;
class Utterance extends EventTarget {
  constructor(text) { super(); this.text = text; }
}
window.SpeechSynthesisUtterance = Utterance;
const voice = new EventTarget();
voice.getVoices = () => [{ name: "Test" }];
voice.cancel = () => {};
voice.speak = (utterance) => {
  window.heard.push(utterance.text);
  const began = shown();
  setTimeout(() => {
    window.said.push([began, shown()]);
    utterance.dispatchEvent(new Event("end"));
  }, window.holdBack ?? 0);
};
Object.defineProperty(window, "speechSynthesis", { value: voice });
"""
