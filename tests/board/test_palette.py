"""The palette's contrasts, and how large a text must be to be read from the back row.

Contrast: W3C, Web Content Accessibility Guidelines (WCAG) 2.2, definitions of 'relative
luminance' and 'contrast ratio'; success criteria 1.4.3 (text, 4.5:1) and 1.4.11 (graphics, 3:1).
Legibility: AVIXA V202.01:2016, Display Image Size for 2D Content in Audiovisual Systems
(DISCAS), basic decision making. Both from memory.
"""

from __future__ import annotations

import re

import pytest

from app.paths import resource

THEMES = ("light", "dark")
TEXTS = [
    ("ink", "paper"),
    ("ink", "panel"),
    ("ink", "card"),
    ("quiet", "paper"),
    ("quiet", "panel"),
    ("quiet", "card"),
    ("lit-ink", "lit"),
    ("control", "card"),
    ("control", "paper"),
    ("address", "paper"),
    ("data", "paper"),
    ("wrong", "card"),
    ("wrong", "paper"),
    ("paper", "wrong"),
    ("inside", "panel"),
    ("on-vehicle", "inside"),
    ("on-vehicle", "address"),
    ("on-vehicle", "data"),
    ("on-vehicle", "control"),
]
GRAPHICS = [
    *(
        (line, ground)
        for line in ("inside", "address", "data", "control")
        for ground in ("paper", "panel")
    ),
    ("edge", "paper"),
    ("edge", "card"),
    ("focus", "paper"),
    ("focus", "card"),
    ("ink", "card"),
]


def luminance(colour: str) -> float:
    """WCAG 2.2, 'relative luminance' of an sRGB colour written #rrggbb."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (
        each / 12.92 if each <= 0.04045 else ((each + 0.055) / 1.055) ** 2.4 for each in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def palette(theme: str) -> dict[str, str]:
    """The colours of a theme, read from the style sheet that the pages have."""
    css = (resource("static") / "css" / "base.css").read_text(encoding="utf-8")
    blocks = re.findall(r":root(\[data-theme=\"dark\"\])? \{(.*?)\n\}", css, re.DOTALL)
    colours: dict[str, str] = {}
    for dark, block in blocks:
        if not dark or theme == "dark":
            colours |= dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", block))
    return colours


def test_contrast_by_the_standards_own_extremes() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#777777") == pytest.approx(1)
    # The grey that is known as just enough, and the next lighter one that is not.
    assert contrast("#767676", "#ffffff") >= 4.5 > contrast("#777777", "#ffffff")


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize(("text", "ground"), TEXTS)
def test_text_can_be_read(theme: str, text: str, ground: str) -> None:
    colours = palette(theme)
    assert contrast(colours[text], colours[ground]) >= 4.5


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize(("line", "ground"), GRAPHICS)
def test_lines_can_be_seen(theme: str, line: str, ground: str) -> None:
    colours = palette(theme)
    assert contrast(colours[line], colours[ground]) >= 3


def test_a_theme_is_nothing_but_colours() -> None:
    """So tests/browser/judge.py judges all else in one of them."""
    folder = resource("static")
    named = {
        each.relative_to(folder).as_posix(): each.read_text(encoding="utf-8")
        for each in [*folder.rglob("*.css"), *folder.rglob("*.js")]
    }
    told = {name for name, text in named.items() if re.search("data-theme|prefers-color", text)}
    assert told == {"css/base.css", "js/controls.js"}
    (block,) = re.findall(r'data-theme="dark"\] \{(.*?)\n\}', named["css/base.css"], re.DOTALL)
    colours = r"(?:\s*(?:--[a-z-]+: #[0-9a-f]{6}|color-scheme: dark);)+"
    assert re.fullmatch(colours, block)
    assert "data-theme" not in named["css/base.css"].replace(f'data-theme="dark"] {{{block}', "")


def element_height(image: float, farthest: float) -> float:
    """DISCAS: the least height of an element as a share of the image, from the height of the
    image and the distance of the farthest viewer (in the same unit)."""
    return farthest / (image * 200)


def test_the_legibility_formula_by_its_worked_example() -> None:
    assert element_height(1500, 10_500) == pytest.approx(0.035)


def test_three_per_cent_serves_a_class_at_six_image_heights() -> None:
    """The figure that tests/browser/test_layout.py holds the board to."""
    assert element_height(1, 6) == pytest.approx(0.03)
