"""Which place of the board a line of the text belongs to, and which lines a place of the board."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from app.lesson.model import Scene
from app.lesson.pressing import Pressing

from .manuscript import Manuscript
from .offers import since


@dataclass(frozen=True, slots=True)
class Whereabouts:
    """A place of the board: a scene and a step, each counted from 0, and which of the cues at the
    start stands there."""

    scene: int = 0
    step: int = 0
    said: int = 0


def nearest(manuscript: Manuscript, place: Whereabouts) -> Whereabouts:
    """The place, or the last step of its scene where the scene has fewer, as the board goes to."""
    scenes = manuscript.lesson.scenes
    if manuscript.lesson.faults or place.scene >= len(scenes):
        return place
    scene = scenes[place.scene]
    last = scene.scale.last_step if scene.scale else None
    if last is None and not scene.paced.reaches(place.step):
        last = scene.paced.last_step
    return place if last is None else replace(place, step=min(place.step, last))


def place_of(manuscript: Manuscript, line: int) -> Whereabouts:
    """Where the board stands for a line (from 1) of a lesson without faults: at the cue, the
    question or the instruction that is written there, else at the start of its scene."""
    number = manuscript.outline.scene_of(line - 1)
    scenes = manuscript.lesson.scenes
    if number is None or number >= len(scenes):
        return Whereabouts()
    scene = scenes[number]
    block = manuscript.outline.block_of(line - 1)
    kind = block.kind if block else ""
    if not scene.program.words or block is None:
        return Whereabouts(number)
    if kind == "cues":
        cues = [each for each in scene.cues if block.open < each.line - 1 <= line - 1]
        cue = cues[-1] if cues else None
        spans = scene.timeline.spans(cue.when) if cue else ()
        if cue and spans:
            step = Pressing(scene, scene.depth).whole(scene.cue_sheet.stop(cue, spans[0]))
            return Whereabouts(number, step, scene.cue_sheet.number_at_start(cue))
    elif kind == "question":
        pressing = Pressing(scene, scene.depth)
        for asked in scene.questions:
            if block.open < asked.line - 1 <= block.close:
                return Whereabouts(number, pressing.ask_step(asked))
    elif kind == "program":
        address = scene.program.address_of_line(line - scene.program_line + 1)
        origins = scene.program.origins
        if address is not None and not origins[address].is_data:
            first = _first_time(scene, address)
            if first is not None:
                return Whereabouts(number, first)
    return Whereabouts(number)


def says_where(manuscript: Manuscript, line: int) -> bool:
    """Whether a line (from 1) has a step of its own, and not only its scene. Where machines are
    compared no step is that of an instruction."""
    block = manuscript.outline.block_of(line - 1)
    if block is None:
        return False
    number = manuscript.outline.scene_of(line - 1) or 0
    scenes = manuscript.lesson.scenes
    compares = number < len(scenes) and scenes[number].compare is not None
    return block.kind in ("cues", "question") or (block.kind == "program" and not compares)


def _first_time(scene: Scene, address: int) -> int | None:
    """The last step of the instruction at an address, the first time that it is carried out."""
    spans = scene.timeline.carried_out(address)
    return spans[0].last if spans else None


def lines_of(manuscript: Manuscript, place: Whereabouts) -> list[int]:
    """The lines (from 1) that a place of the board belongs to: what is said or asked there, then
    the instruction that is under way."""
    return list(dict.fromkeys(_lines(manuscript, place)))


def _lines(manuscript: Manuscript, place: Whereabouts) -> Iterator[int]:
    scenes = manuscript.lesson.scenes
    scene = scenes[place.scene]
    step = place.step
    if not scene.program.words:
        yield scene.line
        return
    pressing = Pressing(scene, scene.depth)
    yield from (each.line for each in scene.questions if pressing.ask_step(each) == step)
    cue = scene.cue_sheet.at(step, since(scene, step) if step else None, place.said)
    if cue:
        yield cue.line
    written = next((each for each in scenes if each.program is scene.program), scene)
    address = _under_way(scene, step) if step and written.program_line else None
    if address is not None:
        origins = scene.program.origins
        if address < len(origins):
            yield written.program_line + origins[address].line - 1
    elif not cue:
        yield scene.line


def _under_way(scene: Scene, step: int) -> int | None:
    """Where the instruction stands that is under way at a step, in a pipeline the oldest of those
    in a tick; None where machines are compared, and no one instruction is."""
    if scene.in_pipeline:
        return scene.in_pipeline.row(scene.timeline.number_at(step)).address
    if scene.by_turns:
        return None
    return scene.run.moment(scene.run.before_instruction(step)).after.pc
