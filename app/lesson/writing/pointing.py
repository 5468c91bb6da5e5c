"""What happens on stage from a moment on: a part that is shown or hidden, a stop, another pace."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial
from itertools import islice

from app.lesson.blocks.actions import SPEEDS, Actions, WrongAction, actions_in, in_brackets
from app.lesson.blocks.cues import Cue
from app.lesson.entries import Wrong
from app.lesson.model import Scene
from app.lesson.parts import all_parts, part_name
from app.machine.machine import Machine

from .manuscript import Manuscript
from .offers import since, to_do
from .saying import actions_of, change_actions, say

# So many ways are tried, on the run and then in the text.
_MOST_TRIED, _MOST_READ = 100, 3
# Of more parts that are left out it is shorter to say which are there.
_MOST_LEFT_OUT = 4


Change = Callable[[], Manuscript]


def point(manuscript: Manuscript, number: int, step: int, said: int, part: str) -> Manuscript:
    """A part that is on stage at a step leaves it from there on, and one that is not comes.
    ``said`` is the number of the cue that stands at the start.

    Raises Wrong for what is no part of the machine, or where it cannot be written.
    """
    scene = manuscript.scene(number)
    machine = scene.program.machine
    if part not in all_parts(machine):
        raise Wrong("The machine has no such part.", "Choose one of those beside the board.")
    shown = scene.cue_sheet.parts(step, said)
    wanted = shown ^ {part}
    if step == 0 and said == 0 and scene.with_parts(wanted).cue_sheet.parts(0, 0) == wanted:
        try:
            after = _at_the_start(manuscript, number, wanted, machine)
            if after.lesson.scenes[number].cue_sheet.parts(0, 0) == wanted:
                return after
        except Wrong:
            pass  # the text has it in another way: then it is said there
    verb = "show" if part in wanted else "hide"
    return _done(
        manuscript,
        number,
        step,
        f"{verb} {part_name(part, machine)}",
        lambda scene: scene.cue_sheet.parts(step, said) == wanted,
        lambda actions: replace(actions, show=actions.show - {part}, hide=actions.hide - {part}),
    )


def pause(manuscript: Manuscript, number: int, step: int) -> Manuscript:
    """Playing stops at a step, or does not any more."""
    scene = manuscript.scene(number)
    wanted = not pauses(scene, step)
    return _done(
        manuscript,
        number,
        step,
        "pause" if wanted else "",
        lambda scene: pauses(scene, step) == wanted,
        lambda actions: replace(actions, pause=False),
    )


def pauses(scene: Scene, step: int) -> bool:
    """Whether playing stops at a step of a scene."""
    return scene.cue_sheet.pauses(step, since(scene, step) if step else None)


def pace(manuscript: Manuscript, number: int, step: int, said: int, speed: float) -> Manuscript:
    """Playing goes at another speed, times the usual one, from a step on."""
    if speed not in SPEEDS:
        raise Wrong("There is no such speed.", "Choose one of those in the list.")
    return _done(
        manuscript,
        number,
        step,
        f"speed {speed:g}",
        lambda scene: scene.cue_sheet.speed(step, said) == speed,
        lambda actions: replace(actions, speed=None),
    )


def _done(
    manuscript: Manuscript,
    number: int,
    step: int,
    action: str,
    holds: Callable[[Scene], bool],
    without: Callable[[Actions], Actions],
) -> Manuscript:
    """The change that makes something so from a step on: first in a cue that starts there, else in
    one of its own. Each way is tried on the run, and must leave the step before as it is. Without
    an ``action`` what is there is only taken back.

    The text is changed, and read again, only for a way that does it: many cues may start there.
    """
    scene = manuscript.scene(number)
    if not scene.program.words:
        raise Wrong("This scene has no program, so nothing comes here.", "Add a program first.")
    before = _before(scene, step)
    read = 0
    for cues, change in islice(_ways(manuscript, number, step, action, without), _MOST_TRIED):
        tried = scene.with_cues(cues)
        if not holds(tried) or _before(tried, step) != before:
            continue
        if read == _MOST_READ:
            break
        read += 1
        try:
            after = change()
        except Wrong:
            continue
        made = after.lesson.scenes[number]
        if holds(made) and _before(made, step) == before:
            return after
    what = "This cannot be written for this moment alone."
    raise Wrong(what, "Go a step back or on, or write it in the brackets of a cue.")


def _before(scene: Scene, step: int) -> object:
    """The stage just before a step."""
    if step == 0:
        return None
    sheet, before = scene.cue_sheet, since(scene, step)
    return sheet.parts(before), sheet.speed(before), sheet.pauses(before)


def _ways(
    manuscript: Manuscript,
    number: int,
    step: int,
    action: str,
    without: Callable[[Actions], Actions],
) -> Iterator[tuple[tuple[Cue, ...], Change]]:
    """Ways to do something, or to take it back: the cues that the scene would have, and the change
    of the text. The cue that is written last comes first, for of several it is the one that
    counts."""
    scene = manuscript.scene(number)
    machine = scene.program.machine
    first = since(scene, step) + 1 if step else 0
    here = []
    for cue in scene.cues:
        spans = scene.timeline.spans(cue.when)
        if len(spans) == 1 and first <= spans[0].first <= step:
            here.append(cue)

    def other(cue: Cue, *actions: str) -> Iterator[tuple[tuple[Cue, ...], Change]]:
        inside = ", ".join(filter(None, actions))
        try:
            made = replace(cue, actions=actions_in(inside, machine))
        except WrongAction:
            return  # such as a part that would come and go
        cues = tuple(made if each is cue else each for each in scene.cues)
        yield cues, partial(change_actions, manuscript, number, cue.line, inside)

    for cue in reversed(here):
        # What was done by pointing is taken back by pointing again.
        less = without(cue.actions)
        if less != cue.actions:
            plain = in_brackets(less, machine)
            yield from other(cue, plain)
            if action:
                yield from other(cue, plain, action)
    if not action:
        return
    for cue in reversed(here):
        inside = actions_of(manuscript, cue.line) if cue.actions else ""
        yield from other(cue, inside, action)
    for offer in to_do(scene, step):
        made = Cue(offer.when, "", offer.place, 0, 0, actions_in(action, machine))
        # It is written behind those that come no later.
        firsts = (scene.timeline.spans(each.when).firsts for each in scene.cues)
        no_later = (n for n, each in enumerate(firsts, 1) if each and each[0] <= offer.span.first)
        at = max(no_later, default=0)
        cues = (*scene.cues[:at], made, *scene.cues[at:])
        yield cues, partial(say, manuscript, number, step, offer, "", action)


def _at_the_start(
    manuscript: Manuscript, number: int, wanted: frozenset[str], machine: Machine
) -> Manuscript:
    """The parts that a scene starts with, in its ``show`` block."""
    there = manuscript.outline.scenes[number].first("show")
    left_out = all_parts(machine) - wanted
    if there and not left_out and manuscript.lesson.header.show in (None, wanted):
        return manuscript.without_block(there)  # as the header has it
    names = [part_name(each, machine) for each in sorted(left_out)]
    if not left_out:
        line = "everything"
    elif not wanted:
        line = "nothing"
    elif len(left_out) <= _MOST_LEFT_OUT:
        line = f"everything but {', '.join(names)}"
    else:
        line = ", ".join(part_name(each, machine) for each in sorted(wanted))
    return manuscript.with_block(number, "show", [line])
