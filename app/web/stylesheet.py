"""The positions of the board's parts as CSS, made from the drawing.

A unit of the drawing is ``--unit`` on the page. Each form of the drawing has its own media query.
"""

from __future__ import annotations

from functools import cache

from app.machine.words import Format

from .drawing import Drawing, Form, drawing

MEDIA = {
    Form.WIDE: "(min-aspect-ratio: 3/2)",
    Form.SQUARE: "(min-aspect-ratio: 4/5) and (max-aspect-ratio: 2999/2000)",
    Form.TALL: "(max-aspect-ratio: 799/1000)",
}


@cache
def positions_css(format: Format) -> str:
    """The style sheet of one machine, all forms."""
    return "\n".join(_form_css(drawing(form, format)) for form in Form)


def _form_css(drawn: Drawing) -> str:
    if drawn.form is Form.TALL:
        unit = f"calc(100vw / {drawn.width:g})"
    else:
        unit = f"min(calc(100vw / {drawn.width:g}), calc(100vh / {drawn.height:g}))"
    rules = [
        f":root {{ --unit: {unit}; }}",
        f".stage {{ width: {_length(drawn.width)}; height: {_length(drawn.height)}; }}",
        f".lines.form-{drawn.form} {{ display: block; }}",
    ]
    for name, box in drawn.boxes.items():
        rules.append(
            f".at-{name.replace(' ', '-')} {{ left: {_length(box.left)}; top: {_length(box.top)};"
            f" width: {_length(box.width)}; height: {_length(box.height)}; }}"
        )
    body = "\n".join(f"  {rule}" for rule in rules)
    return f"@media {MEDIA[drawn.form]} {{\n{body}\n}}\n"


def _length(units: float) -> str:
    return f"calc(var(--unit) * {units:.1f})"
