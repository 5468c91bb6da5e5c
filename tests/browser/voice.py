"""A voice for tests: it writes down what it is given to say, in ``window.heard``."""

# In the page, before its own scripts. ``window.holdBack`` is how long it takes over each sentence,
# in milliseconds; ``window.ended`` tells that it has come to the end of one.
VOICE = """
window.heard = [];
class Utterance extends EventTarget {
  constructor(text) { super(); this.text = text; }
}
window.SpeechSynthesisUtterance = Utterance;
const voice = new EventTarget();
voice.getVoices = () => [{ name: "Test" }];
voice.cancel = () => {};
voice.speak = (utterance) => {
  window.heard.push(utterance.text);
  const end = () => { window.ended = true; utterance.dispatchEvent(new Event("end")); };
  setTimeout(end, window.holdBack ?? 0);
};
Object.defineProperty(window, "speechSynthesis", { value: voice });
"""
