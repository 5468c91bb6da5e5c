"""The positions of the board's parts as CSS, made from the drawing.

A unit of the drawing is ``--unit`` on the page. On the board's own page each form of the drawing
has its media query and ``--unit`` comes from the window; a page that gives the board a part of
its window asks for one form and sets ``--unit`` itself. What a form changes in the look beside
positions is in ``static/css/form-*.css`` and goes out with it.
"""

from __future__ import annotations

from functools import cache

from app.machine.machine import Machine
from app.paths import resource

from .drawing import OUTSIDE, Drawing, Form, drawing

# A narrow window has the tall form whatever its shape: it scrolls, so that text grows when the page
# is zoomed (WCAG 2.2, 1.4.4). No projector is so narrow.
_WIDE_ENOUGH = "(min-width: 62rem)"
MEDIA = {
    Form.WIDE: f"(min-aspect-ratio: 3/2) and {_WIDE_ENOUGH}",
    Form.SQUARE: f"(min-aspect-ratio: 4/5) and (max-aspect-ratio: 2999/2000) and {_WIDE_ENOUGH}",
    Form.TALL: "(max-aspect-ratio: 799/1000), (max-width: 61.99rem)",
}


@cache
def positions_css(machine: Machine, form: Form | None = None) -> str:
    """The style sheet of one machine: all forms by media query, or one without."""
    if form is not None:
        return _form_css(drawing(form, machine))
    return "\n".join(
        f"@media {MEDIA[each]} {{\n:root {{ --unit: {_unit(drawing(each, machine))}; }}\n"
        f"{_form_css(drawing(each, machine))}}}\n"
        for each in Form
    )


def _unit(drawn: Drawing) -> str:
    if drawn.form is Form.TALL:
        return f"calc(100vw / {drawn.width:g})"
    return f"min(calc(100vw / {drawn.width:g}), calc(100vh / {drawn.height:g}))"


def _form_css(drawn: Drawing) -> str:
    rules = [
        f".stage {{ width: {_length(drawn.width)}; height: {_length(drawn.height)}; }}",
        f".lines.form-{drawn.form} {{ display: block; }}",
    ]
    for name, box in drawn.boxes.items():
        rules.append(
            f".at-{class_name(name)} {{ left: {_length(box.left)}; top: {_length(box.top)};"
            f" width: {_length(box.width)}; height: {_length(box.height)}; }}"
        )
    rules += _hiding(drawn)
    look = resource("static") / "css" / f"form-{drawn.form}.css"
    return "\n".join([*rules, look.read_text(encoding="utf-8")])


def _hiding(drawn: Drawing) -> list[str]:
    """A part that is not shown takes its lines with it; what is drawn instead comes out."""
    rules = []
    for part in dict.fromkeys(part for edge in drawn.edges for part in edge.parts):
        name = class_name(part)
        rules.append(f'.stage:has(.no-{name}) .line[data-parts~="{name}"] {{ display: none; }}')
    for part in dict.fromkeys(edge.instead for edge in drawn.edges if edge.instead):
        rules.append(
            f'.stage:not(:has(.no-{part})) .line[data-instead="{part}"] {{ display: none; }}'
        )
    rules.append(
        f'.stage:has(.no-input):has(.no-output) .line[data-parts~="{OUTSIDE}"] {{ display: none; }}'
    )
    # A bus that goes nowhere is not named either.
    rules.append(".no-memory .bus { display: none; }")
    return rules


def class_name(name: str) -> str:
    """The name of a part or box as a class of the page."""
    return name.replace(" ", "-")


def _length(units: float) -> str:
    return f"calc(var(--unit) * {units:.1f})"
