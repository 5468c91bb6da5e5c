"""Pages judged by axe-core, in both themes."""

from __future__ import annotations

from typing import Any

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

THEMES = ("light", "dark")
EVERY_RULE: dict[str, Any] = {"resultTypes": ["violations"]}
# Those of axe-core's category 'colour' that it applies by itself.
COLOUR_RULES = EVERY_RULE | {
    "runOnly": {"type": "rule", "values": ["color-contrast", "link-in-text-block"]}
}
# The layers that lie over the whole board, empty or with lines alone, would leave axe-core in doubt
# about the ground of every text under them.
# Colours that are on their way, from one theme to the other or as controls fade, are nobody's;
# values that travel are no transitions, and go on.
JUDGE = """
async (options) => {
  document.documentElement.getBoundingClientRect();
  for (const each of document.getAnimations()) {
    if (each instanceof CSSTransition) each.finish();
  }
  const clear = new CSSStyleSheet();
  clear.replaceSync("#vehicles:empty, .lines { visibility: hidden !important; }");
  const sheets = document.adoptedStyleSheets;
  document.adoptedStyleSheets = [...sheets, clear];
  const found = await axe.run(document, options);
  document.adoptedStyleSheets = sheets;
  return found.violations;
}
"""
# A colour is read from its words once for a page, and not for each text and all that lies under it:
# what comes of it depends on nothing but the words. It is a third of the time of a judgement.
READ_ONCE = """
() => {
  const colour = axe.commons.color.Color.prototype;
  const read = colour.parseString;
  const known = new Map();
  colour.parseString = function (words) {
    const parts = known.get(words);
    if (parts) {
      [this.r, this.g, this.b, this.alpha] = parts;
    } else {
      read.call(this, words);
      known.set(words, [this.r, this.g, this.b, this.alpha]);
    }
    return this;
  };
}
"""
OTHER_THEME = """
() => {
  const root = document.documentElement;
  root.dataset.theme = root.dataset.theme === "dark" ? "light" : "dark";
  return root.dataset.theme;
}
"""


def violations(page: Page) -> list[str]:
    """What axe-core finds wrong: theme, rule, help, and the elements.

    Every rule is applied in the theme that the page is in. In the other one nothing differs but
    colours (tests/board/test_palette.py), so there the rules about colours are enough. The page
    is left in its theme.
    """
    _bring_axe(page)
    # Set by the page's own script, after what it came with can be seen already.
    page.wait_for_function("document.documentElement.dataset.theme")
    first = page.evaluate("document.documentElement.dataset.theme")
    assert first in THEMES
    found = told(first, page.evaluate(JUDGE, EVERY_RULE))
    second = page.evaluate(OTHER_THEME)
    found += told(second, page.evaluate(JUDGE, COLOUR_RULES))
    assert {first, second} == set(THEMES) and page.evaluate(OTHER_THEME) == first
    return found


def violations_of_plain(page: Page) -> list[str]:
    """The same of a page without a script of its own, whose theme is what the system asks for."""
    _bring_axe(page)
    found: list[str] = []
    for theme, rules in zip(THEMES, (EVERY_RULE, COLOUR_RULES), strict=True):
        page.emulate_media(color_scheme=theme)  # type: ignore[arg-type]
        found += told(theme, page.evaluate(JUDGE, rules))
    return found


def _bring_axe(page: Page) -> None:
    if not page.evaluate("'axe' in window"):
        page.evaluate(Axe().axe_script)
        page.evaluate(READ_ONCE)


def told(theme: str, broken: list[dict[str, Any]]) -> list[str]:
    return [
        f"{theme}: {each['id']}: {each['help']}: {[node['target'] for node in each['nodes']]}"
        for each in broken
    ]
