"""The controls of the board, each defined once: its button, its keys, and what it posts."""

from __future__ import annotations

from dataclasses import dataclass, replace

from app.machine.machine import Machine

# The rows in which the teacher's own screen sets the controls out.
GROUPS = {
    "move": "Move",
    "scene": "Scene",
    "show": "Show",
    "inside": "Inside",
    "class": "Class",
    "page": "This window",
}


@dataclass(frozen=True, slots=True)
class Control:
    """A button. ``keys`` are the names that browsers give to keys; ``action`` is the last part
    of the address that it posts to, or empty where the page does it alone; a ``main`` one is
    there on a small screen too, a ``rare`` one waits on the board until all are asked for.
    ``long`` is the control that a long press of its keys stands for."""

    name: str
    group: str
    label: str
    help: str
    keys: tuple[str, ...] = ()
    action: str = ""
    main: bool = False
    rare: bool = False
    long: str = ""


def _sent(
    name: str,
    group: str,
    label: str,
    help: str,
    *keys: str,
    main: bool = False,
    rare: bool = False,
    long: str = "",
) -> Control:
    return Control(name, group, label, help, keys, name, main, rare, long)


# What opens a part of the machine; a lesson on paper or a page of one's own has them, too.
INSIDE_CONTROLS = (
    _sent(
        "alu",
        "inside",
        "Inside the ALU",
        "Open the ALU where it works; once more, a column and its gates",
        "o",
        rare=True,
    ),
    _sent("out", "inside", "Back out", "Close again what was opened last", "z", rare=True),
    _sent("column-left", "inside", "Column left", "The column to the left", "f", rare=True),
    _sent("column-right", "inside", "Column right", "The column to the right", "h", rare=True),
    _sent(
        "signals",
        "inside",
        "Control lines",
        "Open the control unit: the control lines of this step; or close it",
        "k",
        rare=True,
    ),
)

CONTROLS = (
    _sent("back", "move", "Back", "One press back", "ArrowLeft", "PageUp", main=True),
    _sent(
        "forward",
        "move",
        "Next",
        "One press on; at a question, ask it",
        "ArrowRight",
        "PageDown",
        "Space",
        main=True,
        long="onward",
    ),
    _sent(
        "onward",
        "move",
        "Next cue",
        "To the next cue, question or stop; or hold Next",
        "c",
        rare=True,
    ),
    _sent("step-on", "move", "Next step", "The smallest step on; asks nothing", "s", rare=True),
    _sent("play", "move", "Play", "Go on by itself, or stop", "g", main=True),
    _sent("phase", "move", "Next phase", "To the end of the next phase", "p", rare=True),
    _sent(
        "instruction",
        "move",
        "Next instruction",
        "To the end of the next instruction",
        "ArrowDown",
        "i",
    ),
    _sent(
        "instruction-back",
        "move",
        "Instruction back",
        "To the start of this instruction",
        "ArrowUp",
        "u",
        rare=True,
    ),
    _sent("restart", "scene", "Restart", "To the start of the scene", "Home", "r", main=True),
    _sent("scene-back", "scene", "Scene before", "To the scene before", "[", rare=True),
    _sent("scene-on", "scene", "Next scene", "To the next scene", "]"),
    _sent("slower", "show", "Slower", "Movement and play slower", "-"),
    _sent("faster", "show", "Faster", "Movement and play faster", "+", "="),
    _sent("movement", "show", "Movement", "With or without movement", "m", rare=True),
    _sent("depth", "show", "Depth", "Whole phases, or every register transfer", "d", rare=True),
    _sent("base", "show", "Base", "Numbers in another base", "n", rare=True),
    _sent("blank", "show", "Blank", "Blank the board, or show it again", ".", "b", rare=True),
    Control(
        "what-if", "show", "What if?", "Change a number, see the run from here", ("w",), rare=True
    ),
    _sent("bell", "move", "Bell", "A request comes here; Put back takes it back", "a"),
    *INSIDE_CONTROLS,
    _sent("put-back", "move", "Put back", "Put back what was changed", "x", rare=True),
    _sent("question", "class", "Question", "Ask, close, show the spread, run to the answer", "q"),
    Control("invite", "class", "Join", "How the class joins", ("j",)),
    Control("theme", "page", "Light or dark", "A light window or a dark one", ("t",), rare=True),
    Control("help", "page", "Keys", "This list of keys", ("?",)),
)

# On pages that somebody works through alone; at the board the teacher does the talking.
VOICE = Control("voice", "page", "Voice", "Read the words aloud, or stop", ("v",))

KEY_NAMES = {
    "ArrowLeft": "\N{LEFTWARDS ARROW}",
    "ArrowRight": "\N{RIGHTWARDS ARROW}",
    "ArrowDown": "\N{DOWNWARDS ARROW}",
    "ArrowUp": "\N{UPWARDS ARROW}",
    "PageUp": "Page Up",
    "PageDown": "Page Down",
}


def controls_of(machine: Machine) -> tuple[Control, ...]:
    """The controls of the board for a machine: a bell only where it can interrupt."""
    return tuple(each for each in CONTROLS if each.name != "bell" or machine.interrupt)


def named(names: str) -> tuple[Control, ...]:
    """Those of the board's controls that another page has too: names with spaces between. There
    no press asks a class anything."""
    wanted = names.split()
    return tuple(
        replace(each, help="One press on") if each.name == "forward" else each
        for each in CONTROLS
        if each.name in wanted
    )
