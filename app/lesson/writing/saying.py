"""Cues written at a moment of the run: added, changed, taken away."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from app.lesson.blocks.cues import Cue
from app.lesson.entries import Entry, Wrong, read_entries
from app.lesson.model import Scene

from .manuscript import Manuscript
from .offers import Offer, since, to_say
from .outline import Placed

_BRACKETS = re.compile(r"\[[^\[\]]*\]$")


def say(
    manuscript: Manuscript, number: int, step: int, offer: Offer, words: str, actions: str = ""
) -> Manuscript:
    """A cue at one of the places that were offered at a step, with words, or with ``actions`` (as
    they stand in the brackets), or both.

    Raises Wrong where it would not stand there as it was typed.
    """
    return _say(manuscript, manuscript.scene(number), number, step, offer, words, actions)


def _say(
    manuscript: Manuscript,
    scene: Scene,
    number: int,
    step: int,
    offer: Offer,
    words: str,
    actions: str,
) -> Manuscript:
    words = " ".join(words.split())
    if not words and not actions:
        raise Wrong("Nothing is said here.", "Type what the board shall say.")
    line, indent, block = _room(manuscript, scene, number, offer)
    entry = entry_lines(indent, offer.place, words, actions)
    if block is None:
        after = manuscript.with_block(number, "cues", entry)
        at = after.line - 1
    else:
        after, at = manuscript.with_lines(line, line, entry, line), line
    made = cue_on(after, number, at + 1)
    if made is None or made.words != words:
        what = "These words would be read as something else."
        raise Wrong(what, "Leave out square brackets at the end, and signs such as ``` or '#'.")
    if words:
        sheet = after.lesson.scenes[number].cue_sheet
        said = None if step else sheet.number_at_start(made)
        if sheet.at(step, since(after.lesson.scenes[number], step) if step else None, said) != made:
            what = "Another cue stands on the board at this moment."
            raise Wrong(what, "Change its words, or choose a place with fewer steps.")
    return after


def change_words(manuscript: Manuscript, number: int, line: int, words: str) -> Manuscript:
    """Other words for the cue that starts on a line (from 1); its place and its brackets stay."""
    cue = _cue_or_wrong(manuscript, number, line)
    words = " ".join(words.split())
    first, last, text = _lines_of(manuscript, line)
    brackets = _BRACKETS.search(text)
    inside = brackets[0][1:-1] if brackets and cue.actions else ""
    return _rewritten(manuscript, number, (first, last), cue.text, words, inside)


def places_to_move(manuscript: Manuscript, number: int, step: int, line: int) -> tuple[Offer, ...]:
    """The places at a step where the cue that starts on a line (from 1) could stand instead."""
    cue = _cue_or_wrong(manuscript, number, line)
    found = to_say(_without(manuscript, number, line)[1], step)
    return tuple(each for each in found if each.place != cue.text)


def move(
    manuscript: Manuscript, number: int, step: int, line: int, place: str, words: str
) -> Manuscript:
    """The cue that starts on a line (from 1) at another of the places that come at a step, with
    these words; its brackets go with it.

    Raises Wrong where it could not stand there.
    """
    actions = (
        actions_of(manuscript, line) if _cue_or_wrong(manuscript, number, line).actions else ""
    )
    offers = places_to_move(manuscript, number, step, line)
    offer = next((each for each in offers if each.place == place), None)
    if offer is None:
        raise Wrong("Nothing can be said at this place any more.", "Open this form again.")
    before, scene = _without(manuscript, number, line)
    return _say(before, scene, number, step, offer, words, actions)


def change_actions(manuscript: Manuscript, number: int, line: int, actions: str) -> Manuscript:
    """Other brackets for the cue that starts on a line (from 1), none for an empty text; its words
    stay. A cue without words and brackets goes."""
    cue = _cue_or_wrong(manuscript, number, line)
    if not cue.words and not actions:
        return unsay(manuscript, number, line)
    first, last, _ = _lines_of(manuscript, line)
    return _rewritten(manuscript, number, (first, last), cue.text, cue.words, actions)


def actions_of(manuscript: Manuscript, line: int) -> str:
    """What stands in the brackets of the cue that starts on a line (from 1)."""
    brackets = _BRACKETS.search(_lines_of(manuscript, line)[2])
    return brackets[0][1:-1] if brackets else ""


def unsay(manuscript: Manuscript, number: int, line: int) -> Manuscript:
    """The text without the cue that starts on a line (from 1)."""
    _cue_or_wrong(manuscript, number, line)
    return manuscript.checked(_unsaid(manuscript, line))


def _without(manuscript: Manuscript, number: int, line: int) -> tuple[Manuscript, Scene]:
    """The same, and the scene as that text has it, without reading it."""
    scene = manuscript.scene(number)
    after = _unsaid(manuscript, line)
    gone = len(manuscript.text.lines) - len(after.text.lines)
    left = (each for each in scene.cues if each.line != line)
    moved = (replace(each, line=each.line - gone) if each.line > line else each for each in left)
    return after, scene.with_cues(moved)


def _unsaid(manuscript: Manuscript, line: int) -> Manuscript:
    first, last, _ = _lines_of(manuscript, line)
    block = manuscript.outline.block_of(line - 1)
    assert block
    rest = [each for each in block.inside if not first <= each <= last]
    if all(not manuscript.text.lines[each].strip() for each in rest):
        return manuscript.unread_without(block)
    return manuscript.unread(first, last + 1, [], first)


def entry_lines(indent: str, place: str, words: str, actions: str) -> list[str]:
    """A cue as it is written: in one line, which an editor wraps where it likes to."""
    brackets = f"[{actions}]" if actions else ""
    return [f"{indent}{place}: {' '.join(filter(None, (words, brackets)))}"]


def carried_on(text: str) -> str:
    """A line that carries an entry on."""
    return f"  {text}"


def as_written(cue: Cue) -> str:
    """The place of a cue and its words, by which it is found again."""
    return f"{cue.text}: {cue.words}"


def cue_on(manuscript: Manuscript, number: int, line: int) -> Cue | None:
    """The cue of a scene that starts on a line (from 1)."""
    scenes = manuscript.lesson.scenes
    cues = scenes[number].cues if number < len(scenes) else ()
    return next((each for each in cues if each.line == line), None)


def _cue_or_wrong(manuscript: Manuscript, number: int, line: int) -> Cue:
    manuscript.scene(number)
    cue = cue_on(manuscript, number, line)
    if cue is None:
        raise Wrong("There is no such cue any more.", "Choose it on the board again.")
    return cue


def _rewritten(
    manuscript: Manuscript, number: int, lines: tuple[int, int], place: str, words: str, inside: str
) -> Manuscript:
    first, last = lines
    indent = _indent(manuscript.text.lines[first])
    entry = entry_lines(indent, place, words, inside)
    after = manuscript.with_lines(first, last + 1, entry, first)
    made = cue_on(after, number, first + 1)
    if made is None or made.words != words:
        what = "These words would be read as something else."
        raise Wrong(what, "Leave out square brackets at the end, and signs such as ``` or '#'.")
    return after


def _lines_of(manuscript: Manuscript, line: int) -> tuple[int, int, str]:
    """The first and last line (from 0) of the cue that starts on a line (from 1), and its text."""
    block = manuscript.outline.block_of(line - 1)
    for entry in _entries(manuscript.text.lines, block) if block else ():
        if entry.starts[0][1] == line:
            return line - 1, entry.starts[-1][1] - 1, entry.text
    raise Wrong("There is no such cue any more.", "Choose it on the board again.")


def _entries(lines: Sequence[str], block: Placed) -> list[Entry]:
    inside = "\n".join(lines[each] for each in block.inside)
    return read_entries(inside, block.open + 2)


def _room(
    manuscript: Manuscript, scene: Scene, number: int, offer: Offer
) -> tuple[int, str, Placed | None]:
    """The line (from 0) before which a cue goes, its indent, and the block that it goes into: in
    the order of the run, after those that come before it."""
    blocks = [each for each in manuscript.outline.scenes[number].blocks if each.kind == "cues"]
    if not blocks:
        return 0, "", None
    spans = scene.timeline.spans(offer.when)
    mine = spans[0].first
    lines = manuscript.text.lines
    starts = {each.line: scene.timeline.spans(each.when) for each in scene.cues}
    entries = [(block, entry) for block in blocks for entry in _entries(lines, block)]
    before = [
        (block, entry)
        for block, entry in entries
        if (found := starts.get(entry.starts[0][1])) and found[0].first <= mine
    ]
    if before:
        block, entry = before[-1]
        return entry.starts[-1][1], _indent_of(lines, block), block
    block = blocks[0]
    return block.open + 1, _indent_of(lines, block), block


def _indent_of(lines: Sequence[str], block: Placed) -> str:
    """The blanks before the first entry of a block: a line with more of them would carry it on."""
    first = (lines[each] for each in block.inside if lines[each].strip())
    return _indent(next(first, ""))


def _indent(line: str) -> str:
    return line[: len(line) - len(line.lstrip())]
