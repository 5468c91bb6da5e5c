"""What can be measured of a page for everyone: looks that hold in every state of it."""

from __future__ import annotations

from typing import Any

from playwright.sync_api import Page

# WCAG 2.2, 1.4.12 (the author of the page must stand these): as a reader's own style sheet sets
# them.
SPACING = """
* { line-height: 1.5 !important; }
* { letter-spacing: 0.12em !important; word-spacing: 0.16em !important; }
p { margin-bottom: 2em !important; }
"""

# Controls smaller than 24 by 24 CSS pixels that are neither in a sentence nor the browser's own
# drawing (WCAG 2.2, 2.5.8, with its exceptions 'inline' and 'user agent control'). A label belongs
# to its control.
SMALL = """
() => [...document.querySelectorAll("button, a, input, select, textarea, summary")].filter(each => {
  if (!each.checkVisibility({ visibilityProperty: true }) || each.type === "hidden") return false;
  const both = [each, each.closest("label")].filter(Boolean);
  const boxes = both.map((one) => one.getBoundingClientRect());
  if (boxes.some((box) => box.width === 0)) return false;
  const inSentence = each.matches("p a, li a, p button.to-line") &&
    getComputedStyle(each).display === "inline";
  return !inSentence && !boxes.some((box) => box.width >= 24 && box.height >= 24);
}).map((each) => `${each.outerHTML.slice(0, 80)} ${each.getBoundingClientRect().height}`)
"""

# Whether the page scrolls sideways, or a part of it does that is none of those that may (a program
# whose lines are not wrapped has two dimensions; WCAG 2.2, 1.4.10 lets such a part scroll).
SIDEWAYS = """
() => [document.documentElement, ...document.querySelectorAll("body *")].filter((each) => {
  if (each.scrollWidth <= each.clientWidth + 1 || !each.checkVisibility()) return false;
  if (each === document.documentElement) return true;
  return ["auto", "scroll"].includes(getComputedStyle(each).overflowX) && !each.matches("#program");
}).map((each) => `${each.tagName} ${each.id} ${each.className} ${each.scrollWidth}`)
"""

# The element that has the keyboard, and whether any of it can be seen: it is in the window, and at
# one of its corners or its middle nothing lies over it (WCAG 2.2, 2.4.11).
FOCUS = """
() => {
  const at = document.activeElement;
  if (!at || at === document.body) return null;
  const box = at.getBoundingClientRect();
  const inset = (share, from, length) => from + 2 + share * (length - 4);
  const seen = [0, 0.5, 1].some((x) => [0, 0.5, 1].some((y) => {
    const over = document.elementFromPoint(inset(x, box.x, box.width), inset(y, box.y, box.height));
    return over && (at.contains(over) || over.contains(at) || over.closest("label")?.contains(at));
  }));
  return { name: at.id || at.outerHTML.slice(0, 80), seen };
}
"""


def small_targets(page: Page) -> list[str]:
    """The controls in sight that are too small to be hit."""
    return page.evaluate(SMALL)


def sideways(page: Page) -> list[str]:
    """The page or its parts, where they have to be scrolled sideways."""
    return page.evaluate(SIDEWAYS)


def focus(page: Page) -> dict[str, Any] | None:
    """What has the keyboard: its ``name``, and whether it is ``seen``; None for nothing. What comes
    into sight with the keyboard may take a moment, which is passed over."""
    page.evaluate(
        """() => {
          for (const each of document.getAnimations()) {
            if (each instanceof CSSTransition) each.finish();
          }
        }"""
    )
    return page.evaluate(FOCUS)


def walk(page: Page, most: int = 80) -> list[dict[str, Any]]:
    """Every stop of the Tab key, once round the page."""
    page.evaluate("document.activeElement?.blur()")
    stops: list[dict[str, Any]] = []
    ends = 0
    for _ in range(most):
        page.keyboard.press("Tab")
        stop = focus(page)
        # From where the last press was to the end of the page, and once more from its start.
        ends += stop is None
        if ends > 1 or stop in stops:
            break
        if stop:
            stops.append(stop)
    return stops


def spaced(page: Page) -> None:
    """Sets the text of a page apart as a reader may."""
    page.evaluate(
        """(rules) => {
          const style = new CSSStyleSheet();
          style.replaceSync(rules);
          document.adoptedStyleSheets = [...document.adoptedStyleSheets, style];
        }""",
        SPACING,
    )


def listen(page: Page) -> None:
    """Writes down what the live region says, from now on, in ``window.heard``."""
    page.evaluate(
        """() => {
          window.heard = [];
          const region = document.getElementById("announce");
          const note = () => window.heard.push(region.textContent);
          new MutationObserver(note).observe(region, { childList: true });
        }"""
    )


def heard(page: Page) -> list[str]:
    return page.evaluate("window.heard")
