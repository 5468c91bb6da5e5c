"""What stands where on the board, measured in the page."""

from __future__ import annotations

# In the page: every text's boxes, every drawn line, and what is wrong between them. A text is as
# high as its capitals and descenders, not its line; what is scrolled or wrapped out of sight
# (under a phone's caption, in a queue) is not looked at.
MEASURE = r"""
() => {
  const stage = document.getElementById("stage");
  const caption = stage.querySelector(".caption");
  const floating = getComputedStyle(caption).position === "fixed";
  const below = floating ? caption.getBoundingClientRect().top : Infinity;
  const texts = [];
  const walker = document.createTreeWalker(stage, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const holder = walker.currentNode.parentElement;
    const text = walker.currentNode.textContent.trim();
    if (!text || !holder.checkVisibility({ visibilityProperty: true })) continue;
    if (holder.closest(".only-heard, #vehicles, .connection, #movement")) continue;
    const inCaption = caption.contains(holder);
    const window = holder.closest(".reading, .queue, .long-words .name")?.getBoundingClientRect();
    const style = getComputedStyle(holder);
    // A text of a picture is scaled with it.
    const scale = holder.getScreenCTM?.().a ?? 1;
    const size = parseFloat(style.fontSize) * scale;
    const line = holder.getScreenCTM ? size * 1.2 : parseFloat(style.lineHeight) || size * 1.2;
    const range = document.createRange();
    range.selectNodeContents(walker.currentNode);
    for (const box of range.getClientRects()) {
      const middle = (box.top + box.bottom) / 2;
      if (box.width < 1 || (window && middle > window.bottom)) continue;
      if (floating && !inCaption && box.bottom > below) continue;
      texts.push({
        text, line, holder, inCaption,
        left: box.left, right: box.right, top: middle - size * 0.42, bottom: middle + size * 0.42,
      });
    }
  }
  const drawing = [...stage.querySelectorAll(".lines")].find((each) => each.checkVisibility());
  const lines = !drawing ? [] : [...drawing.querySelectorAll(".line")]
    .filter((each) => each.checkVisibility())
    .flatMap((path) => {
      const toScreen = path.getScreenCTM();
      const half = (parseFloat(getComputedStyle(path).strokeWidth) * toScreen.a) / 2;
      // A path may be several lines: each from where it moves to, to where it draws to.
      const corners = [...path.getAttribute("d").matchAll(/[ML]([-.\d]+) ([-.\d]+)/g)].map((each) =>
        new DOMPoint(Number(each[1]), Number(each[2])).matrixTransform(toScreen));
      return corners.flatMap((start, at) => {
        if (at % 2) return [];
        const end = corners[at + 1];
        const upright = Math.abs(start.x - end.x) < 0.01;
        return [{
          part: path.dataset.parts,
          left: Math.min(start.x, end.x) - (upright ? half : 0),
          right: Math.max(start.x, end.x) + (upright ? half : 0),
          top: Math.min(start.y, end.y) - (upright ? 0 : half),
          bottom: Math.max(start.y, end.y) + (upright ? 0 : half),
        }];
      });
    });
  const meet = (one, other) =>
    one.left < other.right - 0.5 && other.left < one.right - 0.5 &&
    one.top < other.bottom - 0.5 && other.top < one.bottom - 0.5;
  const faults = [];
  texts.forEach((each, at) => {
    for (const other of texts.slice(at + 1)) {
      if (each.inCaption === other.inCaption && meet(each, other)) {
        faults.push(`'${each.text}' overlaps '${other.text}'`);
      }
    }
    for (const line of lines) {
      if (!(floating && each.inCaption) && meet(each, line)) {
        faults.push(`the line of ${line.part} goes through '${each.text}'`);
      }
    }
    const home = each.holder.closest("[class*='at-']");
    const box = home.getBoundingClientRect();
    if (each.left < box.left - 1 || each.right > box.right + 1 ||
        each.top < box.top - 1 || each.bottom > box.bottom + 1) {
      faults.push(`'${each.text}' sticks out of ${home.className}`);
    }
    // The ALU is narrower below: 11 % of its width on either side, see static/css/board.css.
    if (home.matches(".alu")) {
      const slope = 0.11 * box.width * ((each.bottom - box.top) / box.height);
      if (each.left < box.left + slope || each.right > box.right - slope) {
        faults.push(`'${each.text}' leaves the unit`);
      }
    }
    if (each.left < 0 || each.right > innerWidth) faults.push(`'${each.text}' is off the screen`);
  });
  for (const each of stage.querySelectorAll(".row .text, .head h1, .head .scene")) {
    if (each.checkVisibility() && each.scrollWidth > each.clientWidth + 1) {
      faults.push(`'${each.textContent.trim()}' is cut short`);
    }
  }
  const share = (each) => each.line / innerHeight;
  const least = (some) => some.reduce(
    (one, other) => (share(other) < share(one) ? other : one), some[0]);
  const told = (each) => [each.text, share(each)];
  return {
    faults,
    texts: texts.length,
    rows: document.querySelectorAll(".row").length,
    lines: lines.length,
    smallest: told(least(texts)),
    smallestOfCaption: told(least(texts.filter((each) => each.holder.closest(".sentence")))),
    scrolls: document.documentElement.scrollHeight > innerHeight + 1,
  };
}
"""
