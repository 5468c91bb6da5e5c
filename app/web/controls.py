"""The controls of the board, each defined once: its button, its keys, and what it posts."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Control:
    """A button. ``keys`` are the names that browsers give to keys; ``action`` is the last part
    of the address that it posts to, or empty where the page does it alone; a ``main`` one is
    there on a small screen too."""

    name: str
    label: str
    help: str
    keys: tuple[str, ...] = ()
    action: str = ""
    main: bool = False


def _sent(name: str, label: str, help: str, *keys: str, main: bool = False) -> Control:
    return Control(name, label, help, keys, name, main)


CONTROLS = (
    _sent("back", "Back", "One step back", "ArrowLeft", "PageUp", main=True),
    _sent("forward", "Next", "One step on", "ArrowRight", "PageDown", "Space", main=True),
    _sent("phase", "Phase", "To the end of the next phase", "p"),
    _sent("instruction", "Instruction", "To the end of the next instruction", "ArrowDown", "i"),
    _sent("instruction-back", "Undo instruction", "Back over this instruction", "ArrowUp", "u"),
    _sent("play", "Play", "Play by itself, or pause", "Enter", "k", main=True),
    _sent("restart", "Restart", "To the start of the scene", "Home", "r", main=True),
    _sent("scene-back", "Scene before", "To the scene before", "["),
    _sent("scene-on", "Next scene", "To the next scene", "]"),
    _sent("slower", "Slower", "Movement and play slower", "-"),
    _sent("faster", "Faster", "Movement and play faster", "+", "="),
    _sent("movement", "Movement", "With or without movement", "m"),
    _sent("depth", "Depth", "Whole phases, or every register transfer", "d"),
    _sent("base", "Base", "Numbers in denary, hexadecimal or binary", "n"),
    _sent("blank", "Blank", "Blank the board, or show it again", ".", "b"),
    Control("theme", "Light or dark", "A light board or a dark one", ("t",)),
    Control("help", "Keys", "This list of keys", ("?",)),
)

KEY_NAMES = {
    "ArrowLeft": "\N{LEFTWARDS ARROW}",
    "ArrowRight": "\N{RIGHTWARDS ARROW}",
    "ArrowDown": "\N{DOWNWARDS ARROW}",
    "ArrowUp": "\N{UPWARDS ARROW}",
    "PageUp": "Page Up",
    "PageDown": "Page Down",
}
