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

from .drawing import MOST_LETTERS, OUTSIDE, Box, Drawing, Form, drawing, is_crowded, is_grown, marks

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


@cache
def watching_css(form: Form | None = None) -> str:
    """How a cache and a pipeline look: all forms by media query, or one without."""
    folder = resource("static") / "css"

    def read(name: str) -> str:
        return (folder / name).read_text(encoding="utf-8")

    parts = [read("watching.css")]
    for each in Form:
        if form is None:
            parts.append(f"@media {MEDIA[each]} {{\n{read(f'watching-{each}.css')}}}\n")
        elif each is form:
            parts.append(read(f"watching-{each}.css"))
    return "\n".join(parts)


def _unit(drawn: Drawing) -> str:
    if drawn.form is Form.TALL:
        # Who makes text larger in the browser gets it larger here, too, and scrolls across.
        return f"max(100vw / {drawn.width:g}, 0.05rem)"
    return f"min(calc(100vw / {drawn.width:g}), calc(100vh / {drawn.height:g}))"


def _form_css(drawn: Drawing) -> str:
    rules = [
        f".stage {{ width: {_length(drawn.width)}; height: {_length(drawn.height)}; }}",
        f".lines.form-{drawn.form} {{ display: block; }}",
    ]
    for name, box in drawn.boxes.items():
        rules.append(_position(name, box))
    rules += [
        f".ports {_position(name, box)}"
        for name, box in drawn.with_ports.boxes.items()
        if box != drawn.boxes[name]
    ]
    rules += [
        f".stage{_shows('ports')} .lines:not(.at-ports) {{ display: none; }}",
        f".stage:not({_shows('ports')}) .lines.at-ports {{ display: none; }}",
    ]
    rules += _hiding(drawn)
    rules += _text_sizes(drawn)
    looks = [f"form-{drawn.form}.css"]
    if is_grown(drawn.machine):
        rules += _columns_of_bits(drawn)
        looks.append("grown.css")
        if drawn.machine.interrupt:
            looks.append("grown-interrupts.css")
        looks.append(f"grown-{drawn.form}.css")
        if is_crowded(drawn.machine) and drawn.form is not Form.TALL:
            looks.append("grown-crowded.css")
    folder = resource("static") / "css"
    return "\n".join([*rules, *((folder / each).read_text(encoding="utf-8") for each in looks)])


# The distance between two bits, and between two groups of four, in the height of a letter; and how
# far outside the word the carry stands.
_BIT, _GROUP, _OUTSIDE = 0.72, 0.36, 0.5


def _columns_of_bits(drawn: Drawing) -> list[str]:
    """Where the columns of bits stand, and where a bit comes from that moves to its column; and the
    notch of the ALU, between the lines that come in."""
    if not marks(drawn.machine):
        return []
    alu, bits = drawn.boxes["ALU"], drawn.machine.word_bits
    notch = (drawn.nodes["ALU.left"][0] + drawn.nodes["ALU.right"][0]) / 2
    rules = [f".alu {{ --notch: {100 * (notch - alu.left) / alu.width:.1f}%; }}"]
    for column in range(-1, bits + 1):
        place = column * _BIT + column // 4 * _GROUP
        if column == -1:
            place = -_BIT - _OUTSIDE
        elif column == bits:
            place += _OUTSIDE - _GROUP
        name = "before" if column < 0 else column
        rules.append(f".column-{name} {{ --x: {place:.2f}em; }}")
        rules.append(f".from-{name} {{ --from: {place:.2f}em; }}")
    return rules


def _position(name: str, box: Box) -> str:
    return (
        f".at-{class_name(name)} {{ left: {_length(box.left)}; top: {_length(box.top)};"
        f" width: {_length(box.width)}; height: {_length(box.height)}; }}"
    )


def _hiding(drawn: Drawing) -> list[str]:
    """A part that is not shown takes its lines with it; what is drawn instead comes out."""
    rules = []
    for part in dict.fromkeys(part for edge in drawn.edges for part in edge.parts):
        name = class_name(part)
        rules.append(f"{_without(name)} .line[data-parts~='{name}'] {{ display: none; }}")
    for part in dict.fromkeys(edge.instead for edge in drawn.edges if edge.instead):
        rules.append(
            f".stage:not({_shows(f'no-{part}')}) .line[data-instead='{part}'] {{ display: none; }}"
        )
    rules.append(
        f"{_without('input', 'output')} .line[data-parts~='{OUTSIDE}'] {{ display: none; }}"
    )
    for bus, register in (("address", "MAR"), ("data", "MDR")):
        # With neither its register nor the panel of the others, the bus comes from nowhere.
        rules.append(
            f"{_without('store', register)} .line[data-parts~='{bus}-bus'] {{ display: none; }}"
        )
        rules.append(f".no-store.no-{register} .at-{bus}-bus {{ display: none; }}")
    # A bus that goes nowhere is not named either.
    rules.append(".no-memory .bus, .no-CU .at-control-bus { display: none; }")
    return rules


def _without(*parts: str) -> str:
    return ".stage" + "".join(_shows(f"no-{part}") for part in parts)


def _shows(word: str) -> str:
    """On the stage, whose lines are beside the frame, the classes of the frame are an attribute.
    A selector that looks into the frame would have all of it styled anew at every change in it."""
    return f"[data-frame~='{word}']"


# Letters of a line of text in memory: with fewer than the first it has its full size.
_LETTERS = range(14, MOST_LETTERS + 1)
# The width of a letter or digit, of the widest of the usual system fonts, in its height.
_LETTER_WIDTH = 0.64
SMALLEST_TEXT = 17.0


def _text_sizes(drawn: Drawing) -> list[str]:
    """The size of the text of a memory word, by how many letters it has: whole, rather than
    large. On a phone letters are smaller, so that more of them fit."""
    tall = drawn.form is Form.TALL
    whole = drawn.slots == drawn.machine.memory_words
    usual, smallest = (13.5, 9.0) if tall else (30.0, SMALLEST_TEXT)
    row = drawn.boxes["slot0"].width
    rules = []
    for base, digits in (("", 0), (".base-binary ", 1)):
        # What the address, the word and the edge of a row that is lit leave: see board.css.
        if tall:
            taken = (20 + 10 * digits + 76 + 30) if whole else (30 + 26)
        else:
            taken = (42 + 22 * digits + 164 + 40) if whole else 55 + 9 * digits + 45
        room = row - taken
        for letters in _LETTERS:
            size = max(min(usual, room / (_LETTER_WIDTH * letters)), smallest)
            if size < usual:
                rules.append(
                    f"{base}.row.letters-{letters} .text {{ font-size: {_length(size)}; }}"
                )
    return rules


def class_name(name: str) -> str:
    """The name of a part or box as a class of the page."""
    return name.replace(" ", "-")


def _length(units: float) -> str:
    return f"calc(var(--unit) * {units:.1f})"
