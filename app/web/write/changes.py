"""What can be changed by pointing, by the name that the page sends for it."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from app.lesson.entries import Wrong
from app.lesson.model import Scene
from app.lesson.parts import titles_of
from app.lesson.writing import asking_here, heading, pointing, saying, whole_parts
from app.lesson.writing.manuscript import Manuscript
from app.lesson.writing.offers import to_say
from app.lesson.writing.whereabouts import Whereabouts

Said = dict[str, Any]
Made = tuple[Manuscript, Whereabouts]
LONGEST_WORDS = 20_000


def words(said: Said, name: str) -> str:
    """What was typed into a field."""
    value = said.get(name, "")
    if not isinstance(value, str) or len(value) > LONGEST_WORDS:
        raise Wrong("This is too long.", "Write less.")
    return re.sub("[\ud800-\udfff]", "\N{REPLACEMENT CHARACTER}", value)


def line_of(said: Said) -> int:
    """The line (from 1) of what is to be changed, as a number or in digits; 0 for anything else."""
    value = said.get("at", 0)
    if isinstance(value, str):
        return int(value) if re.fullmatch("[0-9]{1,7}", value) else 0
    return value if isinstance(value, int) else 0


def cue_line(scene: Scene, said: Said) -> int:
    """The line of the cue that is to be changed."""
    return _found_again(said, {each.line: saying.as_written(each) for each in scene.cues})


def question_line(scene: Scene, said: Said) -> int:
    """The line of the question that is to be changed."""
    return _found_again(said, {each.line: each.prompt for each in scene.asked})


def _found_again(said: Said, there: Mapping[int, str]) -> int:
    """The line of what is to be changed, by what it ``was`` when the page got it: lines may have
    come above it since. Of several alike the nearest; 0 where there is none any more."""
    line, was = line_of(said), words(said, "was")
    if not was or not line:
        return line
    alike = [each for each, text in there.items() if text == was]
    return min(alike, key=lambda each: abs(each - line), default=0)


def _say(text: Manuscript, at: Whereabouts, said: Said) -> Made:
    scene = text.scene(at.scene)
    place = words(said, "place")
    offer = next((each for each in to_say(scene, at.step) if each.place == place), None)
    if offer is None:
        raise Wrong("Nothing can be said at this place any more.", "Open this form again.")
    made = saying.say(text, at.scene, at.step, offer, words(said, "words"))
    return made, _saying(made, at)


def _saying(made: Manuscript, at: Whereabouts) -> Whereabouts:
    """The place at which the board says what was just written."""
    cue = saying.cue_on(made, at.scene, made.line)
    sheet = made.lesson.scenes[at.scene].cue_sheet
    return replace(at, said=sheet.number_at_start(cue) if cue and not at.step else 0)


def _reword(text: Manuscript, at: Whereabouts, said: Said) -> Made:
    line, place = cue_line(text.scene(at.scene), said), words(said, "place")
    if not place:
        return saying.change_words(text, at.scene, line, words(said, "words")), at
    made = saying.move(text, at.scene, at.step, line, place, words(said, "words"))
    return made, _saying(made, at)


def _unsay(text: Manuscript, at: Whereabouts, said: Said) -> Made:
    return saying.unsay(text, at.scene, cue_line(text.scene(at.scene), said)), at


def _point(text: Manuscript, at: Whereabouts, said: Said) -> Made:
    return pointing.point(text, at.scene, at.step, at.said, words(said, "part")), at


def _pause(text: Manuscript, at: Whereabouts, said: Said) -> Made:
    return pointing.pause(text, at.scene, at.step), at


def _pace(text: Manuscript, at: Whereabouts, said: Said) -> Made:
    try:
        speed = float(words(said, "speed"))
    except ValueError:
        speed = 0.0
    return pointing.pace(text, at.scene, at.step, at.said, speed), at


def _ask(text: Manuscript, at: Whereabouts, said: Said) -> Made:
    own = words(said, "own") == "on"
    choices = [
        (words(said, f"answer-{number}"), words(said, f"reason-{number}")) for number in range(5)
    ]
    late, line = words(said, "late"), 0
    if line_of(said):
        line = question_line(text.scene(at.scene), said)
        asked = asking_here.question_on(text.scene(at.scene), line)
        if not asked:
            raise Wrong("There is no such question any more.", "Choose it on the board again.")
        at = replace(at, step=asked[1].step)
    made = asking_here.ask(
        text,
        at.scene,
        at.step,
        words(said, "place"),
        words(said, "subject"),
        words(said, "prompt"),
        choices if own else (),
        words(said, "because"),
        late,
        line,
    )
    return made, at


def _unask(text: Manuscript, at: Whereabouts, said: Said) -> Made:
    line = question_line(text.scene(at.scene), said)
    return asking_here.without_question(text, at.scene, line), at


def _scene(text: Manuscript, at: Whereabouts, said: Said) -> Made:
    program = words(said, "program") == "on" and not text.lesson.faults
    made = whole_parts.add_scene(text, at.scene, words(said, "title"), program)
    return made, Whereabouts(made.outline.scene_of(made.line - 1) or 0)


def _program(text: Manuscript, at: Whereabouts, said: Said) -> Made:
    return whole_parts.add_program(text, at.scene), Whereabouts(at.scene)


def _inputs(text: Manuscript, at: Whereabouts, said: Said) -> Made:
    return whole_parts.set_inputs(text, at.scene, words(said, "values")), at


def _task(text: Manuscript, at: Whereabouts, said: Said) -> Made:
    goal, solution, inputs = (words(said, name) for name in ("goal", "solution", "inputs"))
    return whole_parts.set_task(text, at.scene, goal, solution, inputs), Whereabouts(at.scene)


def _about(text: Manuscript, at: Whereabouts, said: Said) -> Made:
    wanted = {name: words(said, name) for name in heading.FIELDS if name in said}
    return heading.set_header(text, wanted), at


_TAKEN_AWAY = {"unsay": "The cue was taken away.", "unask": "The question was taken away."}


def told(change: str, made: Manuscript, at: Whereabouts, said: Said) -> str:
    """What a change has done, in a sentence."""
    if change in _TAKEN_AWAY:
        return _TAKEN_AWAY[change]
    scenes = made.lesson.scenes
    scene = scenes[at.scene] if at.scene < len(scenes) else None
    if change == "pause" and scene:
        return (
            f"Playing {'stops' if pointing.pauses(scene, at.step) else 'does not stop'} here now."
        )
    if change == "pace":
        return f"Speed {words(said, 'speed')} from here on."
    if change == "inputs" and not words(said, "values").strip():
        return "The inputs were taken away."
    if change != "point" or not scene:
        what = "Changed" if change in ("reword", "about") or line_of(said) else "Written"
        return f"{what} in line {made.line}."
    part = words(said, "part")
    seen = part in scene.cue_sheet.parts(at.step, at.said)
    title = scene.wording.say(titles_of(scene.program.machine)[part])
    how = "shown" if seen else "hidden"
    return f"{title}: {how} from here on."


CHANGES: dict[str, Callable[[Manuscript, Whereabouts, Said], Made]] = {
    "say": _say,
    "reword": _reword,
    "unsay": _unsay,
    "point": _point,
    "pause": _pause,
    "pace": _pace,
    "ask": _ask,
    "unask": _unask,
    "scene": _scene,
    "program": _program,
    "inputs": _inputs,
    "task": _task,
    "about": _about,
}
