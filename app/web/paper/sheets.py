"""Everything of a lesson that can be printed: pages made for paper, and the trace as CSV.

The pages are printed from the browser, or by ``python -m app print``, which prints these same
addresses (``DOCUMENTS``). They have answers on them, so they are the teacher's.
"""

from __future__ import annotations

import errno
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from itertools import accumulate, islice
from string import ascii_uppercase
from urllib.parse import urlencode

from flask import Blueprint, Response, abort, current_app, render_template, request
from jinja2 import Environment

from app.board.drawing import Form, drawing
from app.board.frames import make_frame
from app.classroom.pace import rest_seconds, seconds_per_step
from app.classroom.session import Session
from app.lesson.at_once import worked_out_at_once
from app.lesson.blocks.interrupts import write_request
from app.lesson.blocks.question import MOST_CHOICES
from app.lesson.blocks.speed import duration
from app.lesson.file.warm_up import read_name
from app.lesson.header import Depth
from app.lesson.minutes import Minutes, scene_minutes
from app.lesson.model import Lesson, Scene
from app.lesson.paper.plan import CuePlace, cue_places, homework
from app.lesson.paper.quiz import QuizItem, make_quiz
from app.lesson.paper.trace import MEMORY, Rows, chosen_columns, places, trace_csv
from app.lesson.paper.versions import (
    MOST_CARRIED_OUT,
    MOST_IN_ALL,
    MOST_VERSIONS,
    Version,
    make_versions,
)
from app.lesson.paper.watched import cache_sheet, diagram_sheet, runs_on
from app.lesson.paper.worksheet import Support, Worksheet, make_worksheet
from app.lesson.pressing import MOST_COUNTED, presses_of
from app.machine.instructions import DECODE
from app.machine.machine import Machine
from app.machine.source.numbers import write_numbers
from app.machine.telling.counts import counted
from app.machine.telling.reading import Reading
from app.web.downloads import download, table
from app.web.shelf import lesson_or_404, shelf
from app.web.workers import LONGEST_ASIDE_SECONDS, Asked, WorkerGone, Workers, pass_aside

from .package import SCORM_VERSIONS, qti_package, scorm_package
from .replay import Replay, replay_page
from .replays import FAULT_OF_OURS, NotMade, Page, archive, pages
from .sums import has_sums, sum_sheets

blueprint = Blueprint("paper", __name__, url_prefix="/paper")

# What can be printed of a lesson: the last part of its address, and what it is.
DOCUMENTS = {
    "plan": "Lesson plan",
    "worksheets": "Worksheets",
    "answers": "Answers to the worksheets",
    "quiz": "Quiz",
    "quiz-answers": "Answers to the quiz",
    "sums": "Sums in columns",
    "sums-answers": "Answers to the sums",
    "card": "Reference card",
}
LONGEST_SEED = 40
# Of a long lesson each of these takes many seconds.
_ASIDE = ("paper.plan", "paper.replay", "paper.scorm", "paper.qti", "paper.trace")
# These follow the runs, and are quick unless a program goes on for long: where those of a lesson
# have _LONG steps together, they are made aside as well. (Of those that come with Chalkcycle the
# longest has 12,000.)
_ASIDE_IF_LONG = frozenset(
    f"paper.{each}"
    for each in (
        *("worksheets", "answers", "quiz", "quiz_answers", "quiz_table", "sums", "sums_answers"),
    )
)
_LONG = 15_000
# The plan of a long lesson has some thirty, of some fifteen thousand letters each.
_MOST_PICTURES, _MOST_DRAWN = 120, 4_000_000
# So many letters of programs stand in one document, and each of its sheets counts for some, and
# each column that was asked for: sixty scenes may keep one long program, and each of their sheets
# has it.
_MOST_LETTERS, _OF_A_SHEET, _OF_A_COLUMN = 800_000, 8_000, 1_000
# Of a longer run nobody wants to know how long it takes to play.
_MOST_TIMED = 20_000


class Size(StrEnum):
    """The sizes of paper."""

    A4 = "a4"
    LETTER = "letter"


@dataclass(frozen=True, slots=True)
class Wanted:
    """What was asked for in an address. ``scenes`` are pairs of a number (from 1) and a scene;
    ``left_out`` is the number of the first that is not there because it would take too long."""

    lesson: Lesson
    scenes: tuple[tuple[int, Scene], ...]
    left_out: int
    size: Size
    support: Support
    versions: int
    rows: Rows
    base: str
    columns: tuple[str, ...]
    seed: str


def _lesson(slug: str) -> Lesson:
    lesson = lesson_or_404(slug)
    if not lesson.can_be_taught:
        abort(404, "This lesson has faults, so nothing of it can be printed yet.")
    return lesson


def _wanted(slug: str) -> Wanted:
    """What was asked for, with no more scenes than are worked out for one answer, where it is not
    one of them by itself."""
    lesson = _lesson(slug)
    asked = request.args
    columns = tuple(dict.fromkeys(asked.getlist("column")))
    known = (*places(lesson.header.machine), MEMORY)
    if any(each not in known for each in columns):
        abort(400, f"'column' must be one of: {', '.join(known)}.")
    versions = int(_one_of("versions", [str(each + 1) for each in range(MOST_VERSIONS)]))
    scenes = _scenes(lesson, versions)
    return Wanted(
        lesson=lesson,
        scenes=scenes,
        left_out=0 if asked.get("scene") or len(scenes) == len(lesson.scenes) else len(scenes) + 1,
        size=Size(_one_of("size", [each.value for each in Size])),
        support=Support(int(_one_of("level", [str(each.value) for each in Support]))),
        versions=versions,
        rows=Rows(_one_of("rows", [each.value for each in Rows])),
        base=_one_of("base", list(lesson.header.bases), "denary"),
        columns=columns,
        seed=asked.get("seed", "")[:LONGEST_SEED],
    )


def _why_left_out(number: int) -> str:
    """Why a sheet has no more scenes than those before this number."""
    return (
        f"Scene {number} and those after it are left out: those before are as much as is made at"
        f" once. Ask for each by itself: add '?scene={number}' to the address."
    )


def _one_of(name: str, known: list[str], usual: str = "") -> str:
    said = request.args.get(name) or usual or known[0]
    if said not in known:
        abort(400, f"'{name}' must be one of: {', '.join(known)}.")
    return said


def _scenes(lesson: Lesson, versions: int) -> tuple[tuple[int, Scene], ...]:
    said = request.args.get("scene", "")
    if not said:
        return tuple(enumerate(_made_at_once(lesson.scenes, versions), start=1))
    numbered = tuple(enumerate(lesson.scenes, start=1))
    chosen = tuple(each for each in numbered if str(each[0]) == said)
    if not chosen:
        abort(404, f"The lesson has no scene {said[:10]}.")
    return chosen


def _made_at_once(scenes: Sequence[Scene], versions: int) -> Iterator[Scene]:
    """The first of these scenes, until they have been worked out or written out enough."""
    letters = 0
    for scene in worked_out_at_once(scenes):
        if letters >= _MOST_LETTERS:
            return
        columns = _OF_A_COLUMN * len(request.args.getlist("column"))
        letters += versions * (len(scene.program.source) + _OF_A_SHEET + columns)
        yield scene


@blueprint.before_request
def made_aside() -> Response | None:
    """What takes long is made where it cannot hold up the board."""
    slug = (request.view_args or {}).get("slug", "")
    aside = request.endpoint in _ASIDE or (
        request.endpoint in _ASIDE_IF_LONG
        # For each version many numbers may be tried, and each has its run.
        and (request.args.get("versions", "1") != "1" or _is_long(slug))
    )
    return pass_aside() if aside else None


def _is_long(slug: str) -> bool:
    """Whether the runs of a lesson have _LONG steps or more; none is followed further."""
    lesson = shelf().lesson(slug)
    runs = [each.run for each in lesson.scenes if each.program.words] if lesson else []
    counts = (sum(1 for _ in islice(run.steps(), _LONG)) for run in runs)
    return any(total >= _LONG for total in accumulate(counts))


@blueprint.get("/<slug>")
def overview(slug: str) -> str:
    """All that can be printed of a lesson."""
    lesson = _lesson(slug)
    return render_template(
        "paper/overview.html",
        lesson=lesson,
        running=[
            (number, each)
            for number, each in enumerate(lesson.scenes, start=1)
            if each.program.words
        ],
        sums=has_sums(lesson),
        # What each of them asks is not worked out for that.
        asking=sum(len(each.asked) for each in lesson.scenes),
        supports=tuple(Support),
        most_versions=MOST_VERSIONS,
        columns={
            each: lesson.header.wording.say(_column_name(lesson.header.machine, each))
            for each in (*places(lesson.header.machine), MEMORY)
        },
        bases=lesson.header.bases,
    )


def _column_name(machine: Machine, key: str) -> str:
    if key == MEMORY:
        return "memory (the words that change)"
    register = machine.register.get(key)
    return f"{key} ({register.name})" if register and register.name != key else key


@blueprint.get("/<slug>/worksheets")
def worksheets(slug: str) -> str:
    """Trace tables to fill in: every scene in every version."""
    return _tables(slug, answers=False)


@blueprint.get("/<slug>/answers")
def answers(slug: str) -> str:
    """The same tables, filled in."""
    return _tables(slug, answers=True)


def _tables(slug: str, answers: bool) -> str:
    wanted = _wanted(slug)
    scenes = []
    # Whichever scenes are asked for: each has the same versions by itself and with the others.
    running = sum(bool(each.program.words) for each in wanted.lesson.scenes)
    most = min(MOST_CARRIED_OUT, MOST_IN_ALL // max(running, 1))
    for number, scene in wanted.scenes:
        if scene.program.words:
            versions = make_versions(scene, wanted.versions, wanted.seed, most)
            scenes.append((number, scene, [_sheet(wanted, each) for each in versions]))
    return _document(
        wanted,
        "answers" if answers else "worksheets",
        "paper/answers.html" if answers else "paper/worksheets.html",
        scenes=scenes,
        homework=homework,
        watched=_watched,
        fewer=[scene.title for _, scene, sheets in scenes if len(sheets) < wanted.versions],
    )


def _watched(scene: Scene) -> tuple[tuple[str, object], ...]:
    """What watches the run of a scene, as sheets with their names."""
    found = (("hits and misses", cache_sheet(scene)), ("pipeline", diagram_sheet(scene)))
    return tuple((name, sheet) for name, sheet in found if sheet)


def _sheet(wanted: Wanted, version: Version) -> Worksheet:
    scene = version.scene
    columns = chosen_columns(scene.run, scene.program, wanted.columns)
    return make_worksheet(version, wanted.support, columns, wanted.rows, wanted.base)


@blueprint.get("/<slug>/quiz")
def quiz(slug: str) -> str:
    """The questions of the lesson as a sheet to write on."""
    return _quiz(slug, answers=False)


@blueprint.get("/<slug>/quiz-answers")
def quiz_answers(slug: str) -> str:
    """The same questions with what is right, and what leads to each wrong choice."""
    return _quiz(slug, answers=True)


def _quiz(slug: str, answers: bool) -> str:
    wanted = _wanted(slug)
    asked: list[tuple[int, Scene, tuple[QuizItem, ...]]] = []
    count = 0
    for number, scene in wanted.scenes:
        if scene.questions:
            items = make_quiz(scene, scene.depth, first=count + 1)
            count += len(items)
            asked.append((number, scene, items))
    name = "quiz-answers" if answers else "quiz"
    sheets = [
        (number, scene, items, make_worksheet(Version("", scene), Support.SOME))
        for number, scene, items in asked
    ]
    covered = any(any(each.instead) for _, _, items in asked for each in items)
    return _document(
        wanted,
        name,
        "paper/quiz.html",
        asked=sheets,
        runs_on=runs_on,
        answers=answers,
        covered=covered,
        # As a warm-up has them: short programs, and one question to each.
        one_each=read_name(slug) is not None,
    )


@blueprint.get("/<slug>/sums")
def sums(slug: str) -> str:
    """What the ALU works out, in columns to fill in, and one column as gates."""
    return _sums(slug, answers=False)


@blueprint.get("/<slug>/sums-answers")
def sums_answers(slug: str) -> str:
    """The same sums, worked out."""
    return _sums(slug, answers=True)


def _sums(slug: str, answers: bool) -> str:
    wanted = _wanted(slug)
    found = sum_sheets(wanted.lesson, wanted.scenes)
    name = "sums-answers" if answers else "sums"
    return _document(wanted, name, "paper/sums.html", found=found, answers=answers)


@blueprint.get("/<slug>/quiz.csv")
def quiz_table(slug: str) -> Response:
    """The questions of the lesson as a table for a spreadsheet, one question a row."""
    wanted = _wanted(slug)
    letters = ascii_uppercase[:MOST_CHOICES]
    requests = any(each.requests for _, each in wanted.scenes)
    watched = any(runs_on(each) for _, each in wanted.scenes)
    more = ["requests"] * requests + ["runs on"] * watched
    head = ["number", "scene", "program", "inputs", *more, "when", "question", *letters, "right"]
    rows: list[list[str | int]] = [[*head, "why", *(f"why not {each}" for each in letters)]]
    for number, scene in wanted.scenes:
        machine = scene.program.machine
        inputs = write_numbers(machine, scene.inputs) if scene.inputs else ""
        come = "; ".join(write_request(machine, each) for each in scene.requests)
        beside = [come] * requests + [runs_on(scene)] * watched
        for item in make_quiz(scene, scene.depth, first=len(rows)):
            empty = [""] * (len(letters) - len(item.choices))
            rows.append(
                [
                    *(item.number, f"{number}. {scene.title}", scene.program.source, inputs),
                    *beside,
                    *(item.where, item.prompt, *(each.text for each in item.choices), *empty),
                    *(item.answer.letter, item.because),
                    *(each.reason for each in item.choices),
                    *empty,
                ]
            )
    if wanted.left_out:
        rows.append(["", _why_left_out(wanted.left_out)])
    return table(rows, slug, "-quiz.csv")


@blueprint.get("/<slug>/card")
def card(slug: str) -> str:
    """The reference card of the lesson's machine."""
    wanted = _wanted(slug)
    return _document(
        wanted,
        "card",
        "paper/card.html",
        machine=wanted.lesson.header.machine,
        decode=DECODE,
        counted=[each.value for each in wanted.lesson.header.counted],
    )


@dataclass(frozen=True, slots=True)
class Picture:
    """The board at a moment, as HTML to be shown small, and what goes with it; ``classes`` are
    those of the frame. Without HTML it is none, and what goes with it stands alone."""

    html: str
    classes: str
    position: str
    place: CuePlace | None


@dataclass(frozen=True, slots=True)
class PlannedScene:
    number: int
    scene: Scene
    minutes: Minutes | None
    plays: str
    presses: str
    pictures: tuple[Picture, ...]
    quiz: tuple[QuizItem, ...]


@blueprint.get("/<slug>/plan")
def plan(slug: str) -> str:
    """The whole lesson as a plan, with the board at each cue."""
    wanted = _wanted(slug)
    lesson = wanted.lesson
    minutes = dict(enumerate(scene_minutes(lesson.header.minutes, lesson.scenes), start=1))
    pictures = _Pictures(lesson)
    presses = presses_of(scene for _, scene in wanted.scenes)
    planned = [
        PlannedScene(
            number,
            scene,
            minutes.get(number),
            _plays(scene, scene.depth),
            _presses(next(presses)),
            pictures.of_scene(number, scene),
            make_quiz(scene, scene.depth),
        )
        for number, scene in wanted.scenes
    ]
    return _document(
        wanted,
        "plan",
        "paper/plan.html",
        planned=planned,
        write_numbers=write_numbers,
        write_request=write_request,
        drawing=drawing(Form.WIDE, lesson.header.machine),
    )


def _presses(count: int | None) -> str:
    """How many presses of the clicker a scene takes; empty where it needs none, or nobody knows."""
    if count is None:
        return ""
    if count >= MOST_COUNTED:
        return f"{MOST_COUNTED} presses or more"
    return counted(count, "press") if count else ""


def _plays(scene: Scene, depth: Depth) -> str:
    """How long a scene takes where it plays without a stop; empty where nothing plays."""
    if not scene.program.words:
        return ""
    if scene.by_turns:
        # A step is a tick of a pipeline, or brings one of the machines that are compared.
        last = scene.paced.last_step
        if last >= _MOST_TIMED:
            return ""
        rests = (rest_seconds(scene.paced.moment(at), depth, 1.0) for at in range(1, last + 1))
        return duration(Fraction(round(sum(rests)) or 1))
    steps = sum(1 for _ in islice(scene.run.steps(), _MOST_TIMED))
    if steps == _MOST_TIMED:
        return ""
    account = scene.cached(scene.cache) if scene.cache else None
    return duration(Fraction(round(steps * seconds_per_step(scene.run, depth, 1.0, account)) or 1))


class _Pictures:
    """The board at moments of a lesson, drawn as the board itself draws it; no more than
    _MOST_PICTURES, and none after _MOST_DRAWN letters of them."""

    def __init__(self, lesson: Lesson) -> None:
        self._session = Session("plan", lesson)
        self._left, self._letters = _MOST_PICTURES, 0

    def of_scene(self, number: int, scene: Scene) -> tuple[Picture, ...]:
        """At each cue; of a zoom, at its first and its last station."""
        self._session.go_to_scene(number - 1)
        if scene.scale:
            steps = dict.fromkeys((0, scene.scale.last_step))
            return tuple(self._at(each, None) for each in steps)
        return tuple(self._at(each.step, each) for each in cue_places(scene, drawn=self._left > 0))

    def _at(self, step: int, place: CuePlace | None) -> Picture:
        if not self._left:
            return Picture("", "", "", place)
        self._left -= 1
        self._session.go_to_step(step, place.said if place else 0)
        frame = make_frame(self._session.view())
        html = render_template("board/frame.html", frame=frame, still=True, code="")
        # Many pictures stand on one page, and an id may stand there only once.
        html = re.sub(r'\bid="[^"]*" ?', "", html)
        self._letters += len(html)
        if self._letters >= _MOST_DRAWN:
            self._left = 0
        return Picture(html, frame.classes, frame.position, place)


def _document(wanted: Wanted, name: str, template: str, **context: object) -> str:
    return render_template(
        template,
        lesson=wanted.lesson,
        left_out=wanted.left_out and _why_left_out(wanted.left_out),
        say=wanted.lesson.header.wording.say,
        size=wanted.size,
        sizes=tuple(Size),
        document=DOCUMENTS[name],
        # (Whatever was said beside that: by its name it may be anything.)
        other_size={
            each: urlencode({**request.args.to_dict(flat=False), "size": each.value}, doseq=True)
            for each in Size
        },
        support=wanted.support,
        Depth=Depth,
        **context,
    )


@blueprint.get("/<slug>/trace.csv")
def trace(slug: str) -> Response:
    """The trace of a scene (the first that runs, if none is named) as a CSV file."""
    wanted = _wanted(slug)
    found = next(((at, each) for at, each in wanted.scenes if each.program.words), None)
    if found is None:
        abort(404, "There is no program here whose trace could be written.")
    number, scene = found
    reading = Reading(scene.run.machine, wanted.base, scene.wording)
    lines = trace_csv(scene.run, scene.program, wanted.rows, reading)
    # The mark at the start tells spreadsheets that the file is UTF-8.
    text = "\N{ZERO WIDTH NO-BREAK SPACE}" + "".join(lines)
    return download(text, "text/csv", slug, f"-scene-{number}-trace.csv")


@blueprint.get("/<slug>/replay.html")
def replay(slug: str) -> Response:
    """The replay of the lesson, as a file to keep and to send."""
    page = replay_page(_lesson(slug), current_app.jinja_env)
    return download(page.html, "text/html", slug, "-replay.html")


@blueprint.get("/all/replays.zip")
def all_replays() -> Response:
    """The replays of all lessons, with a start page, as one folder. Each is sent as soon as it is
    made."""
    made = _pages(current_app.extensions["workers"], shelf().lessons(), current_app.jinja_env)
    return download(archive(made), "application/zip", "replays", ".zip")


def _pages(
    workers: Workers | None, lessons: Sequence[Lesson], environment: Environment
) -> Iterator[Page]:
    """The pages of the folder, the replays made by a worker where there are any."""
    if workers is None:
        yield from pages(lessons, environment)
        return
    with workers.aside() as worker:

        def made(lesson: Lesson, environment: Environment) -> Replay:
            asked = Asked(f"/paper/{lesson.slug}/replay.html", "", {}, b"", method="GET")
            try:
                answered = worker.answer(asked, LONGEST_ASIDE_SECONDS)
            except WorkerGone as gone:
                # A half of it has been sent: the download breaks off, as where a line is cut.
                raise BrokenPipeError(
                    errno.EPIPE, "the replays were not made to their end"
                ) from gone
            if answered.status == 500:
                raise NotMade(FAULT_OF_OURS)
            if answered.status != 200:
                raise NotMade("Its file was changed while the replays were made; try again.")
            return Replay(answered.body.decode(), ())

        yield from pages(lessons, environment, made)


@blueprint.get("/<slug>/scorm-<version>.zip")
def scorm(slug: str, version: str) -> Response:
    """The replay as a package for a learning platform."""
    lesson = _lesson(slug)
    if version not in SCORM_VERSIONS:
        abort(404, f"There are packages for SCORM {' and '.join(SCORM_VERSIONS)}.")
    package = scorm_package(lesson, current_app.jinja_env, version)
    return download(package, "application/zip", slug, f"-scorm-{version}.zip")


@blueprint.get("/<slug>/qti.zip")
def qti(slug: str) -> Response:
    """The questions as a package for a platform's own quizzes."""
    lesson = _lesson(slug)
    scenes = tuple(worked_out_at_once(lesson.scenes))
    if len(scenes) < len(lesson.scenes):
        abort(413, "The runs of this lesson are too long for one package. Make two lessons of it.")
    if not any(each.questions for each in scenes):
        abort(404, "This lesson asks no questions.")
    package = qti_package(lesson, current_app.jinja_env)
    return download(package, "application/zip", slug, "-qti-3.zip")
