"""The replay: a lesson as one file that plays from disk, without a server or a network.

The frames are those of the board: a session is taken through every scene with its Next key, and
each frame is rendered with the board's own template. The page shows them with the board's own
style sheets and movement. Frames differ little from one to the next, so they are kept as lists of
lines that many of them share, and packed.
"""

from __future__ import annotations

import base64
import gzip
import hashlib
import json
from array import array
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Any

from jinja2 import Environment

from app.board.controls import INSIDE_CONTROLS, VOICE, Control, named
from app.board.drawing import Form, drawing
from app.board.frames import LONG_SENTENCE, Frame, look_into, make_frame
from app.board.opened import OpenedAlu
from app.board.opened_control import OpenedControl
from app.board.stylesheet import positions_css, watching_css
from app.classroom.course import course_of
from app.classroom.inside import ALU, SIGNALS, Inside
from app.classroom.pace import COLUMN_SECONDS, rest_seconds
from app.classroom.session import Session
from app.classroom.view import View
from app.lesson.asking.questions import AskedQuestion
from app.lesson.at_once import worked_out_at_once
from app.lesson.blocks.actions import SPEEDS
from app.lesson.model import Lesson, Scene
from app.lesson.paper.plan import homework
from app.paths import resource
from app.web.bundle import bundle

LARGEST_FILE = 500_000
# So many frames of a lesson are recorded: nobody presses Next more often than that, and each takes
# some milliseconds to draw.
MOST_FRAMES = 3_000
# So often it is tried to make the file smaller.
_MOST_TRIES = 8
REPLAY_CONTROLS = (
    *named(
        "back forward play phase instruction instruction-back restart scene-back scene-on"
        " slower faster movement theme help"
    ),
    *INSIDE_CONTROLS,
    VOICE,
    Control("about", "page", "About", "What this lesson is about", ("a",)),
)
STYLES = ("base.css", "board.css", "classroom.css", "opened.css", "forced-colours.css")


@dataclass(frozen=True, slots=True)
class Cut:
    """A scene of which not all is in the file: ``kept`` of its frames, or none."""

    title: str
    kept: int


@dataclass(frozen=True, slots=True)
class Replay:
    """The file, and what had to be left out of it."""

    html: str
    cut: tuple[Cut, ...]


class _Numbered(dict[str, int]):
    """Texts by their numbers: one that was not there yet gets the next."""

    def __missing__(self, text: str) -> int:
        self[text] = number = len(self)
        return number


class _Lines:
    """The lines of all frames, each kept once: they are much alike, and thousands of them as they
    are would fill the memory of a small computer."""

    def __init__(self) -> None:
        self._numbers = _Numbered()

    def numbered(self, text: str) -> array[int]:
        """The lines of a text by their numbers."""
        return array("L", map(self._numbers.__getitem__, text.split("\n")))

    def all(self) -> list[str]:
        """Every line so far, at its number."""
        return list(self._numbers)

    def text(self, numbers: array[int]) -> str:
        """The text that was numbered so."""
        return "\n".join(map(self.all().__getitem__, numbers))


@dataclass(slots=True)
class _Recorded:
    """One scene: its frames, by their lines, and for each its step, instruction, phase and time in
    milliseconds, and what can be opened at it."""

    scene: Scene
    frames: list[array[int]] = field(default_factory=list)
    steps: list[int] = field(default_factory=list)
    cycles: list[int] = field(default_factory=list)
    phases: list[str] = field(default_factory=list)
    paces: list[int] = field(default_factory=list)
    pauses: list[int] = field(default_factory=list)
    inside: list[dict[str, Any]] = field(default_factory=list)
    asked: tuple[AskedQuestion, ...] = ()
    whole: bool = True


def replay_page(lesson: Lesson, environment: Environment, scorm: str = "") -> Replay:
    """The replay of a lesson, as much of it as goes into LARGEST_FILE bytes and is worked out at
    once; for a learning platform with the ``scorm`` version that it speaks, else empty.

    Raises ValueError for a lesson that has faults.
    """
    left_out = lesson.scenes[len([*worked_out_at_once(lesson.scenes)]) :]
    lesson = replace(lesson, scenes=lesson.scenes[: len(lesson.scenes) - len(left_out)])
    lines = _Lines()
    scenes = _record(lesson, environment, lines)
    most = max(len(each.frames) for each in scenes)
    page = partial(_page, lesson, environment, scenes, lines, len(left_out), scorm)
    html = page(most)
    for left in reversed(range(_MOST_TRIES)):
        size = len(html.encode())
        if size <= LARGEST_FILE or most <= 1:
            break
        # The longest scenes are shortened until the file is small enough; one that is too large by
        # what stands beside the frames has the first of each.
        most = max(min(most * 4 // 5, most * LARGEST_FILE // size), 1) if left else 1
        html = page(most)
    cut = tuple(
        Cut(each.scene.title, min(most, len(each.frames)))
        for each in scenes
        if not each.whole or len(each.frames) > most
    )
    return Replay(html, (*cut, *(Cut(each.title, 0) for each in left_out)))


def _record(lesson: Lesson, environment: Environment, lines: _Lines) -> list[_Recorded]:
    """Every scene as a teacher would show it who only ever presses Next."""
    session = Session("replay", lesson)
    template = environment.get_template("board/frame.html")
    pictures = _Inside(environment, lines)
    share = _share([_length(each) for each in lesson.scenes])
    recorded = []
    for number, scene in enumerate(lesson.scenes):
        made = _Recorded(scene)
        session.go_to_scene(number)
        before, shown = -1, (-1, -1)
        while ((view := session.view()).step, view.said) != shown:
            if len(made.frames) == share:
                made.whole = False
                break
            frame = make_frame(view)
            html = template.render(frame=frame, still=False, code="")
            made.frames.append(lines.numbered(html))
            made.inside.append(pictures.of(view, frame))
            _note(made, view, before)
            before, shown = view.step, (view.step, view.said)
            session.step_on()
        # Here, while what its run comes to is known.
        made.asked = scene.questions
        recorded.append(made)
    session.close()
    return recorded


class _Inside:
    """What can be opened at each frame. Many frames open to the same, and the pictures of gates
    depend on nothing but the circuit and its bits: each is made once."""

    def __init__(self, environment: Environment, lines: _Lines) -> None:
        self._lines = lines
        self._section = environment.get_template("board/opened.html")
        self._gates = environment.get_template("board/gates.html")
        self._parts: dict[object, dict[str, Any]] = {}
        self._pictures: dict[object, str] = {}

    def of(self, view: View, frame: Frame) -> dict[str, Any]:
        """For each part that can be opened, its HTML and its sentence; for the ALU also each of its
        columns from the right, with the picture of its gates; else why it cannot be."""
        found: dict[str, Any] = {}
        for part in (ALU, SIGNALS):
            looks = replace(view, opened=Inside(part))
            opened = look_into(looks)
            if opened is None:
                found[part] = {"why": looks.cannot_open}
            else:
                key = opened.key
                if key not in self._parts:
                    self._parts[key] = self._part(opened, replace(frame, opened=opened))
                found[part] = self._parts[key]
        return found

    def _part(self, opened: OpenedAlu | OpenedControl, frame: Frame) -> dict[str, Any]:
        html = self._section.render(frame=frame, packed=True)
        made = {"html": self._lines.numbered(html), "said": opened.sentence, "walks": opened.walks}
        if isinstance(opened, OpenedAlu):
            columns = [replace(opened, column=at) for at in range(opened.bits)]
            made["columns"] = [
                {"gates": self._picture(each), "name": each.name, "said": each.sentence}
                for each in columns
            ]
        return made

    def _picture(self, opened: OpenedAlu) -> str:
        key = opened.picture_key
        if key not in self._pictures:
            self._pictures[key] = self._gates.render(opened=opened, picture=opened.picture)
        return self._pictures[key]


def _length(scene: Scene) -> int:
    """How many frames a scene has at most, counted up to MOST_FRAMES."""
    course = course_of(scene)
    return MOST_FRAMES if course.reaches(MOST_FRAMES) else course.last_step() + 1


def _share(lengths: Sequence[int]) -> int:
    """The most frames that each scene may have, so that all together have MOST_FRAMES: the
    short scenes keep all of theirs."""
    left = MOST_FRAMES
    for done, length in enumerate(sorted(lengths)):
        share = left // (len(lengths) - done)
        if length > share:
            return max(share, 2)
        left -= length
    return MOST_FRAMES


def _note(made: _Recorded, view: View, before: int) -> None:
    step = view.moment.step if view.moment else None
    made.steps.append(view.step)
    made.cycles.append(step.cycle if step else 0)
    made.phases.append(step.kind.phase.value[0] if step else "")
    depth, speed = view.settings.depth, view.settings.speed
    rest = rest_seconds(view.moment, depth, speed, view.zoomed, view.looks)
    made.paces.append(round(1000 * rest))
    if before >= 0 and made.scene.cue_sheet.pauses(view.step, before):
        made.pauses.append(len(made.frames) - 1)


def _page(
    lesson: Lesson,
    environment: Environment,
    scenes: list[_Recorded],
    lines: _Lines,
    left_out: int,
    scorm: str,
    most: int,
) -> str:
    entry = "paper/replay/scorm.js" if scorm else "paper/replay/file.js"
    style, script = _style(lesson), bundle(resource("static") / "js", entry)
    return environment.get_template("paper/replay/replay.html").render(
        lesson=lesson,
        scorm=scorm,
        first=lines.text(scenes[0].frames[0]),
        scenes=scenes,
        homework=[homework(each.scene) for each in scenes],
        machine=lesson.header.machine,
        say=lesson.header.wording.say,
        drawings=[drawing(form, lesson.header.machine) for form in Form],
        controls={each.name: each for each in REPLAY_CONTROLS},
        style=style,
        style_hash=_hash(style),
        script=script,
        script_hash=_hash(script),
        tape=_packed(_tape(scenes, lines, most, environment) | {"leftOut": left_out}),
    )


def _style(lesson: Lesson) -> str:
    folder = resource("static") / "css"
    names = [*STYLES, "paper/replay.css"]
    sheets = [(folder / each).read_text(encoding="utf-8") for each in names]
    # The bar of the replay takes some of the window, so its sheet comes after the positions.
    more = [watching_css()] if lesson.watched else []
    return "\n".join([*sheets[:-1], positions_css(lesson.header.machine), *more, sheets[-1]])


def _hash(text: str) -> str:
    """How a Content-Security-Policy names an inline style or script."""
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


def _tape(
    scenes: list[_Recorded], known: _Lines, most: int, environment: Environment
) -> dict[str, Any]:
    """All that the page plays: each frame as the numbers of its lines, of which there are no more
    than these frames have."""
    lines, pictures = _Numbered(), _Numbered()
    line_at = known.all().__getitem__

    def numbered(numbers: array[int]) -> list[int]:
        return [*map(lines.__getitem__, map(line_at, numbers))]

    def inside(parts: dict[str, Any]) -> dict[str, Any]:
        return {
            part: {"why": lines[each["why"]]}
            if "why" in each
            else {
                "html": numbered(each["html"]),
                "said": lines[each["said"]],
                "walks": each["walks"],
                "columns": [
                    [
                        pictures[column["gates"]],
                        lines[column["name"]],
                        lines[column["said"]],
                    ]
                    for column in each.get("columns", ())
                ],
            }
            for part, each in parts.items()
        }

    return {
        "scenes": [
            {
                "title": each.scene.title,
                "frames": [numbered(frame) for frame in each.frames[:most]],
                "inside": [inside(parts) for parts in each.inside[:most]],
                "cycles": each.cycles[:most],
                "phases": "".join(phase or "-" for phase in each.phases[:most]),
                "paces": each.paces[:most],
                "pauses": [at for at in each.pauses if at < most],
                "questions": _questions(each, most, environment),
                "task": each.scene.task.goal if each.scene.task else "",
                "cut": not each.whole or len(each.frames) > most,
            }
            for each in scenes
        ],
        # Made after the scenes, which number them.
        "lines": list(lines),
        "gates": list(pictures),
        "longSentence": LONG_SENTENCE,
        "speeds": SPEEDS,
        "columnMilliseconds": round(1000 * COLUMN_SECONDS),
    }


def _questions(made: _Recorded, most: int, environment: Environment) -> list[dict[str, Any]]:
    """The questions of a scene, each at the last frame before its answer could be seen; of several
    at one frame one is asked after the other."""
    template = environment.get_template("paper/replay/question.html")
    steps = made.steps[:most]
    found: list[dict[str, Any]] = []
    for asked in made.asked:
        at = max(place for place, step in enumerate(steps) if step <= asked.step)
        known = next((place for place, step in enumerate(steps) if step >= asked.reveal_step), -1)
        if known <= at:
            continue
        found.append(
            {
                "at": at,
                "known": known,
                "answer": asked.answer,
                "prompt": asked.prompt,
                "mixups": asked.mixups,
                "html": template.render(asked=asked),
            }
        )
    return found


def _packed(tape: dict[str, Any]) -> str:
    text = json.dumps(tape, ensure_ascii=False, separators=(",", ":"))
    # No time in the file: the same lesson always gives the same bytes.
    return base64.b64encode(gzip.compress(text.encode(), 9, mtime=0)).decode()
