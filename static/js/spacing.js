/* A reader's own style sheet may set letters, words and lines apart (WCAG 2.2, 1.4.12). The boxes of
   the drawing do not grow: the text in them is set smaller then, so that all of it can be read. */
export function watchSpacing(stage) {
  const probe = document.createElement("span");
  probe.className = "spacing-probe";
  probe.ariaHidden = "true";
  probe.textContent = "one two three";
  document.body.append(probe);
  new ResizeObserver(() => {
    const { letterSpacing, wordSpacing } = getComputedStyle(probe);
    const apart = [letterSpacing, wordSpacing].some((each) => parseFloat(each) > 0);
    stage.classList.toggle("spaced", apart);
  }).observe(probe);
}
