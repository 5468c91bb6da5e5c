"""What comes in a scene, as a list to choose from: its cues and questions, or its stations.

Each has the steps that a click leads to, which are those that the clicker stops at.
"""

from __future__ import annotations

from dataclasses import dataclass

from app.lesson.asking.questions import AskedQuestion
from app.lesson.blocks.actions import in_brackets
from app.lesson.blocks.cues import Cue

from .header import Depth
from .model import Scene
from .pressing import Pressing

# A place that comes more often than this has no button for each time; where there are many cues,
# fewer have one, for each is looked for among them all.
MOST_TIMES = 6
MOST_BUTTONS = 300


@dataclass(frozen=True, slots=True)
class Item:
    """A line of the list: ``kind`` is cue, question or station, ``place`` the place as the lesson
    has it. ``steps`` has the step of each time that it comes, the first of them;
    ``times`` is how often that is. Of several cues at the start ``said`` counts them from 0.
    ``number`` is that of a question, 0 for anything else; ``cue`` is there where it speaks."""

    kind: str
    place: str
    words: str
    steps: tuple[int, ...]
    times: int = 1
    said: int = 0
    number: int = 0
    cue: Cue | None = None

    def is_here(self, step: int, cue: Cue | None) -> bool:
        """Whether the board stands at it: at a step, with a cue."""
        return self.cue is cue if self.cue else step in self.steps


def agenda(scene: Scene, depth: Depth) -> tuple[Item, ...]:
    """The list of a scene, in the order of the run, at a depth."""
    if scene.scale is not None:
        stations = enumerate(scene.scale.stations)
        return tuple(Item("station", each.text, each.name, (at,)) for at, each in stations)
    if not scene.program.words:
        return ()
    pressing = Pressing(scene, depth)
    most = max(min(MOST_TIMES, MOST_BUTTONS // max(len(scene.cues), 1)), 1)
    found = [item for cue in scene.cues if (item := _of_cue(scene, cue, pressing, most))]
    found += [_of_question(scene, each, pressing) for each in scene.questions]
    # At one step the cue stands there when the question is asked.
    return tuple(sorted(found, key=lambda each: (each.steps[0], each.said, each.number)))


def _of_cue(scene: Scene, cue: Cue, pressing: Pressing, most: int) -> Item | None:
    """A cue with the first ``most`` times that it comes; None where it never does."""
    spans = scene.timeline.spans(cue.when)
    if not spans:
        return None
    sheet = scene.cue_sheet
    steps = dict.fromkeys(pressing.whole(sheet.stop(cue, each)) for each in spans[:most])
    return Item(
        kind="cue",
        place=cue.text,
        words=cue.words or f"[{in_brackets(cue.actions, scene.program.machine)}]",
        steps=tuple(steps),
        times=len(spans),
        said=sheet.number_at_start(cue),
        cue=cue if cue.words else None,
    )


def _of_question(scene: Scene, asked: AskedQuestion, pressing: Pressing) -> Item:
    written = next(each for each in scene.asked if each.line == asked.line)
    place = f"{'at' if written.early else 'before'} {written.place.text}"
    step = pressing.ask_step(asked)
    said = scene.cue_sheet.last_said(None) if step == 0 else 0
    return Item("question", place, asked.prompt, (step,), 1, said, asked.number)
