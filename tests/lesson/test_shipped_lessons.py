"""The lessons that ship: faultless, every cue comes up, and the outputs are those of plain Python.

A new lesson belongs in ``OUTPUTS``: for each of its scenes, what comes out, worked out here
without the machine; its task belongs in ``TASKS``, with a function that says what any program
must give: its ``solution`` block is held to that, too. SymPy's ``divisors`` is the judge of
factors, NumPy's fixed-width integers of two's complement. What the notes say in numbers is in
``RUNS`` and in the tests at the end.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy
import pytest
from sympy import divisors, isprime

from app.lesson.blocks.task import check_task
from app.lesson.file import reader
from app.lesson.header import Depth
from app.lesson.model import Lesson, Scene
from app.lesson.parts import ALL_PARTS, all_parts
from app.lesson.pressing import Pressing
from app.machine.instructions import Phase
from app.machine.machine import EIGHT_BIT, MACHINES
from app.machine.requests import Request
from app.machine.run import DEFAULT_LIMIT, Run
from app.machine.source.assembler import Program, assemble
from app.machine.state import Ending, State
from app.machine.telling.narration import phase_sentence, sentence
from app.machine.telling.reading import Reading
from app.machine.words import Format
from app.paths import resource
from tests.codes import bits, code, word

from .said.claims import GATE, HIGHEST_OF_THREE, TOTAL_AND_COUNT

SIXTEEN_BIT = MACHINES["16-bit"]
LESSONS = {path.stem: path for path in sorted(resource("lessons").glob("*.md"))}
EVERY = pytest.mark.parametrize("path", LESSONS.values(), ids=LESSONS)
# Nobody changes a lesson that has been read, so that it is read once.
read_file = cache(reader.read_file)

# What fits the board: two lines of caption, and 'JUMP label IF MORE' in the memory column.
LONGEST_CUE = 90
LONGEST_LABEL = 8
# More than any run here takes, for inputs that are tried beyond those of the lessons.
PLENTY = 1_000_000


# What comes out, scene by scene, without the machine.


def countdown(number: int) -> list[int]:
    """A loop that asks its question at the end: its body runs once, whatever the number."""
    shown = [number]
    while (number := number - 1) > 0:
        shown.append(number)
    return shown


def countdown_in_twos(number: int) -> list[int]:
    return list(range(number, -1, -2))


def running_totals(numbers: Iterable[int]) -> list[int]:
    totals: list[int] = []
    for number in until_nought(numbers):
        totals.append((totals[-1] if totals else 0) + number)
    return totals


def until_nought(numbers: Iterable[int]) -> Iterator[int]:
    for number in numbers:
        if number == 0:
            return
        yield number


def wrapped(number: int, kind: type[numpy.signedinteger]) -> int:
    """What is left of a number in a word, by NumPy."""
    return int(numpy.array(number).astype(kind))


def largest_proper_factor(number: int) -> int:
    return int(divisors(number)[-2])


def shifted(number: int, places: int) -> int:
    """A word of 16 bits shifted to the right with zeros coming in, or to the left where
    ``places`` is negative, by NumPy."""
    word = numpy.array(number).astype(numpy.uint16)
    moved = numpy.right_shift(word, places) if places > 0 else numpy.left_shift(word, -places)
    return int(moved.astype(numpy.int16))


def boxes_opened(widths: list[int]) -> list[int]:
    """The lids of boxes in boxes, as they come off and go on."""
    if not widths:
        return []
    return [widths[0], *boxes_opened(widths[1:]), widths[0]]


TUNE = [15, 12]
NOTHING: list[int] = []
VIOLIN = [12, 31, 25, 16, 9, 40, 7, 22]

OUTPUTS: dict[str, list[list[int]]] = {
    "01-library-lift": [NOTHING, [7 + 1], [9 - 1], [9 - 1], [2 + 1]],
    "02-ferry-ticket-machine": [[9 + 4], [5, 3], [7 + 4], [9]],
    "03-bakery-scale": [[97 - 35], [120 - 35], [35 - 97], [30 + 41 + 28], [35]],
    "04-greenhouse-watering": [[6], countdown(3), countdown(4), countdown(6)],
    "05-tide-gauge": [
        [int(52 > 48)],
        [int(48 > 48)],
        [max(31, 46)],
        [max(46, 31)],
        [max(31, 46)],
    ],
    "06-night-bus": [
        running_totals([4, 7, 2, 0]),
        running_totals([4, 0, 7, 0]),
        # No comparison yet, so no jump at the 0; ADD leaves EQUAL, which the 4 does not change.
        [0 + 0],
        [sum(until_nought([4, 7, 2, 0]))],
    ],
    "07-mountain-hut": [
        [2 - 5],
        [-3 + 3],
        [wrapped(120 + 10, numpy.int8), wrapped(-120 - 10, numpy.int8)],
        [int(-100 < 100)],
        [-5],
    ],
    "08-cable-car": [[3 * 8], [8 * 3], [8], [8]],  # for no cabin, 8 is the mistake to be mended
    "09-village-hall": [[largest_proper_factor(each)] for each in (6, 9, 7, 143, 9)],
    "10-lighthouse-list": [
        [wrapped(word("LOAD 0"), numpy.int8)],
        [7],
        list(until_nought([3, 6, 2, 0])),
        [5],
    ],
    "11-bandstand-lamps": [
        [0b0010_0110 | 0b0001_0100],  # data
        [0b0011_0110 & 0b0001_0000],  # data
        [(0b0011_0110 & 0b1111_1011) ^ 0b0001_0001],  # data
        [0b0000_0101_0011_0110 & 0b1111_1011, 0b0000_0101_0011_0010],  # data
        [136 | 1],
    ],
    "12-street-party": [
        [2 * 22, 4 * 2 * 22],
        [37 // 2, 37 % 2],
        [shifted(-38, 1), -38 // 2],
        [shifted(-9000, -1), shifted(20000, -1)],
        [2 * 6],
    ],
    "13-beehives": [
        [[18, 27, 35, 22][2]],
        [18 + 27 + 35 + 22],
        [18 + 27 + 35 + 22 + 60],
        [18, 27, 35, 22],
    ],
    "14-rink-lockers": [[9, 11, 41], [33, 58], [12 + len([38, 41])], [38, 41, 44]],
    "15-clock-tower": [[*TUNE, 20, *TUNE], [20] * 2, [8], [*TUNE, 20, *TUNE]],
    "16-box-in-a-box": [
        boxes_opened([30, 20, 10]),
        [30 + 20 + 10],
        [sum(range(10, 121, 10))],
        [0, 1, 1],
    ],
    "24-print-shop": [*[[sum([12, 40, 8, 16, 24, 4, 32, 20])]] * 4, [14]],
    "23-laundry": [*[[17 + 26]] * 4, [4 + 9]],
    "22-soup-counter": [[9 + 4 + 6], *[countdown(3)] * 2, [5]],
    "21-violin-bench": [[14 + 23], *[[sum(VIOLIN[:4])]] * 3, [3]],
    "19-jam-shelf": [[45 + 27], [13 + 11], [45 - 27], NOTHING, [5]],
    # What requests bring is sent in their order; the task's own program sends nothing.
    "17-bicycle-workshop": [[41], [7], [41, 42], []],
    "18-door-without-bell": [[*filter(None, [0, 0, 41, 0])], [41], [41, 42, 43, 44], [0, 41, 0]],
    "20-label-printer": [
        [*b"PEA"],
        [*b"PEA".lower()],
        [int("7") + 1],
        [min(*b"Za")],
        [*b"p"],
    ],
}


# The tasks: what must come out for any inputs.


@dataclass(frozen=True)
class Expected:
    outputs: Callable[[list[int]], list[int]]
    more: tuple[list[int], ...]  # inputs beyond those of the lesson


def carried_out_on_five(inputs: list[int]) -> list[int]:
    """A few instructions by hand, for lesson 10: LOAD #, ADD # and SUBTRACT #."""
    opcode, operand = divmod(inputs[0] % 256, 16)
    by_code = {"LOAD #n": operand, "ADD #n": 5 + operand, "SUBTRACT #n": 5 - operand}
    return [{code(each): result for each, result in by_code.items()}[opcode]]


TASKS: dict[str, Expected] = {
    "01-library-lift": Expected(
        lambda inputs: [inputs[0] + 1, inputs[0] + 2],
        ([-2], [100]),
    ),
    "02-ferry-ticket-machine": Expected(lambda inputs: [9 + inputs[0]], ([1], [99])),
    "03-bakery-scale": Expected(lambda inputs: [inputs[0] - inputs[1]], ([80, 35], [127, 0])),
    "04-greenhouse-watering": Expected(
        lambda inputs: countdown_in_twos(inputs[0]),
        ([4], [100]),
    ),
    "05-tide-gauge": Expected(lambda inputs: [min(inputs)], ([-128, 127], [127, -128])),
    "06-night-bus": Expected(lambda inputs: [len([*until_nought(inputs)])], ([7, 0, 7], [-1, 0])),
    "07-mountain-hut": Expected(
        lambda inputs: [abs(inputs[0])], tuple([each] for each in range(-127, 128))
    ),
    "08-cable-car": Expected(
        lambda inputs: [inputs[0] * inputs[1]],
        (*([a, b] for a in range(12) for b in range(12)), [181, 181]),
    ),
    "09-village-hall": Expected(
        lambda inputs: [int(divisors(inputs[0])[1])],
        tuple([each] for each in range(2, 80)),
    ),
    "10-lighthouse-list": Expected(
        carried_out_on_five,
        tuple(
            [word(f"{name} #{operand}")]
            for name in ("LOAD", "ADD", "SUBTRACT")
            for operand in range(16)
        ),
    ),
    "11-bandstand-lamps": Expected(
        lambda inputs: [((inputs[0] | 1) & ~128) ^ 8], tuple([each] for each in range(256))
    ),
    "12-street-party": Expected(
        lambda inputs: [10 * inputs[0]], tuple([each] for each in range(-3276, 3277, 63))
    ),
    "13-beehives": Expected(lambda inputs: inputs[::-1], ([0, 0, 0, 1], [-5, 300, 7, -5])),
    "14-rink-lockers": Expected(
        lambda inputs: [*until_nought(inputs)][::-1],
        ([*range(1, 60), 0], [40, 40, 0], [41, 0, 7]),
    ),
    "15-clock-tower": Expected(
        lambda inputs: [*TUNE, *[20] * inputs[0], *TUNE], tuple([each] for each in range(1, 13))
    ),
    "16-box-in-a-box": Expected(
        lambda inputs: [int(each) for each in f"{inputs[0]:b}"],
        ([2], [255], [256], [32_767]),
    ),
    "24-print-shop": Expected(
        lambda inputs: [*divmod(inputs[0], 4)], tuple([each] for each in range(0, 50, 7))
    ),
    "23-laundry": Expected(lambda inputs: [sum(inputs)], ([1, 2, 3], [-99, 50, 49])),
    "22-soup-counter": Expected(
        lambda inputs: [inputs[0], 2 * inputs[0], 3 * inputs[0]], ([-1], [10_000])
    ),
    "21-violin-bench": Expected(
        lambda inputs: [sum(VIOLIN[: inputs[0]])], tuple([each] for each in range(1, 9))
    ),
    "19-jam-shelf": Expected(
        lambda inputs: [2 * inputs[0] + 1], tuple([each] for each in range(-64, 64))
    ),
    "17-bicycle-workshop": Expected(
        lambda inputs: [inputs[0], 12 + 20 + 10], tuple([each] for each in range(8, 100, 7))
    ),
    "18-door-without-bell": Expected(
        lambda inputs: [sum(each != 0 for each in inputs[1:])], ([1, 0], [1, 5], [5, 1, 0, 2, 0, 3])
    ),
    "20-label-printer": Expected(
        lambda inputs: [ord(chr(inputs[0]).upper())], tuple([each] for each in range(97, 123))
    ),
}


def scenes(lesson: Lesson) -> list[Scene]:
    return [scene for scene in lesson.scenes if scene.program.words]


def scene(slug: str, number: int) -> Scene:
    return read_file(LESSONS[slug]).scenes[number - 1]


def outputs(run: Run) -> list[int]:
    return [run.machine.signed(each) for each in run.outputs(run.finish().sent)]


def run_of(
    program: Program,
    inputs: Iterable[int] = (),
    limit: int = PLENTY,
    requests: tuple[Request, ...] = (),
) -> Run:
    format = program.machine
    return Run(format, program.words, [format.pattern(each) for each in inputs], limit, requests)


def run_text(
    format: Format, source: str, inputs: Iterable[int] = (), requests: tuple[Request, ...] = ()
) -> Run:
    program = assemble(format, source)
    assert program.problems == ()
    return run_of(program, inputs, requests=requests)


def presses(lesson: Lesson, scene: Scene) -> Iterator[int]:
    """The steps that the key for 'next' stops at, in the lesson's own depth."""
    run, step = scene.run, 0
    while True:
        yield step
        on = run.after_phase(step) if lesson.header.depth is Depth.PHASES else step + 1
        if on == step or not run.reaches(on):
            return
        step = on


# The files.


def test_a_whole_scheme_of_work() -> None:
    assert len(LESSONS) >= 8
    assert set(LESSONS) == set(OUTPUTS) == set(TASKS)
    numbers = [int(slug.split("-")[0]) for slug in LESSONS]
    assert numbers == list(range(1, len(LESSONS) + 1))


@EVERY
def test_nothing_is_wrong(path: Path) -> None:
    assert [str(each) for each in read_file(path).problems] == []


@EVERY
def test_a_lesson_plan_is_whole(path: Path) -> None:
    """What a teacher looks for first: whom it is for, how long it takes, what it is good for."""
    lesson = read_file(path)
    header = lesson.header
    assert header.age and header.minutes and header.objectives
    assert len(header.terms) >= 3 and all(meaning for _, meaning in header.terms)
    for scene in lesson.scenes:
        assert scene.title
        # Each scene's notes say what to ask and what may be said that is not so.
        for words in ("<strong>Ask", "<strong>Watch for", "<strong>Expect"):
            assert words in scene.notes or scene.task, (scene.title, words)
    assert "<strong>Homework." in lesson.scenes[-1].notes


@EVERY
def test_the_minutes_of_the_scenes_add_up(path: Path) -> None:
    lesson = read_file(path)
    minutes = [
        re.findall(r"<strong>(\d+) minutes\.</strong>", each.notes) for each in lesson.scenes
    ]
    assert all(len(each) == 1 for each in minutes)
    assert sum(int(each[0]) for each in minutes) == lesson.header.minutes


@EVERY
def test_words_fit_the_board(path: Path) -> None:
    lesson = read_file(path)
    long = [
        cue.words for each in lesson.scenes for cue in each.cues if len(cue.words) > LONGEST_CUE
    ]
    assert long == []
    for each in lesson.scenes:
        assert all(len(label) <= LONGEST_LABEL for label in each.program.labels.values())


# The runs.


@EVERY
def test_every_run_halts(path: Path) -> None:
    for scene in scenes(read_file(path)):
        assert scene.run.finish().ending is Ending.HALTED, scene.title


@EVERY
def test_every_cue_comes_up(path: Path) -> None:
    """Stepping through shows each at least once: none is always hidden behind another."""
    lesson = read_file(path)
    for scene in scenes(lesson):
        seen = {cue.line for step in presses(lesson, scene) if (cue := scene.cue_sheet.at(step))}
        assert seen == {cue.line for cue in scene.cues if cue.words}, scene.title


def uses_status(lesson: Lesson) -> bool:
    """Whether something in it asks for the status: a program, a solution or a question."""
    programs = [each.program for each in lesson.scenes] + [each.solution for each in lesson.scenes]
    sources = " ".join(each.source for each in programs if each)
    asked = any(each.subject.kind == "status" for one in lesson.scenes for each in one.asked)
    return asked or bool(re.search(r"\b(?:COMPARE|IF)\b", sources))


@EVERY
def test_a_status_that_is_not_used_is_not_spoken_of(path: Path) -> None:
    """Neither on the board nor in what explains an answer; and one that is used is on stage."""
    lesson = read_file(path)
    told = [
        text
        for scene in scenes(lesson)
        for each in scene.questions
        for text in (each.because, *each.reasons)
    ]
    said = bool(re.search(r"\bstatus\b", " ".join(told)))
    on_stage = any("status" in scene.parts for scene in scenes(lesson))
    assert uses_status(lesson) == on_stage
    assert on_stage or not said
    assert on_stage or not re.search(r"\b(?:status|LESS|EQUAL|MORE)\b", in_sight(lesson))


def in_sight(lesson: Lesson) -> str:
    """What the class reads of a lesson beside its programs: cues and questions."""
    return " ".join(
        [each.words for scene in lesson.scenes for each in scene.cues]
        + [each.prompt for scene in lesson.scenes for each in scene.asked]
    )


@EVERY
def test_every_part_is_on_stage_in_the_end(path: Path) -> None:
    """Except those that a look at whole phases leaves out, the bus for signals, and a status that
    the lesson has no use for. Of what a machine has grown by, what the run has used is there; a
    lesson may leave the carry out."""
    lesson = read_file(path)
    left_out = {"MAR", "MDR", "control bus"} if lesson.header.depth is Depth.PHASES else set()
    if not uses_status(lesson):
        left_out.add("status")
    for scene in scenes(lesson):
        shown = scene.cue_sheet.parts(scene.run.last_step)
        assert (shown & ALL_PARTS) | left_out == ALL_PARTS, scene.title
        used = {
            place
            for _, _, kind, _ in scene.run.steps()
            for place in (*kind.transfer.target_places, kind.transfer.worker)
        }
        grown = all_parts(lesson.header.machine) - ALL_PARTS
        assert (used & grown) - shown <= {"carry"}, scene.title


@EVERY
def test_outputs_are_those_of_plain_python(path: Path) -> None:
    assert [outputs(each.run) for each in read_file(path).scenes] == OUTPUTS[path.stem]


# The questions.


@EVERY
def test_questions_are_asked_where_the_key_stops(path: Path) -> None:
    lesson = read_file(path)
    assert sum(len(each.questions) for each in lesson.scenes) >= 2
    for scene in scenes(lesson):
        stops = set(presses(lesson, scene))
        assert scene.question_problems == []
        assert all(each.step in stops for each in scene.questions), scene.title
        assert len(scene.questions) >= len(scene.asked)


@EVERY
def test_every_question_is_answered_on_the_board(path: Path) -> None:
    """By presses alone: what is answered soon is answered before the next is asked, and no two
    answers come up at one place, where only one would be seen."""
    for scene in scenes(read_file(path)):
        pressing = Pressing(scene, scene.depth)
        for one in scene.questions:
            others = [each for each in scene.questions if each is not one]
            assert one.reveal_step not in [each.reveal_step for each in others], one.prompt
            if not one.late:
                between = range(pressing.ask_step(one), one.reveal_step)
                assert not any(each.step in between for each in others), one.prompt


@EVERY
def test_the_caption_does_not_give_a_number_away(path: Path) -> None:
    """What the board says when a question is asked does not hold its answer."""
    lesson = read_file(path)
    phases = lesson.header.depth is Depth.PHASES
    for scene in scenes(lesson):
        reading = Reading(scene.run.machine, "denary")
        for question in scene.questions:
            answer = question.choices[question.answer]
            if not re.fullmatch("\N{MINUS SIGN}?[0-9]+", answer):
                continue
            moment = scene.run.moment(question.step)
            cue = scene.cue_sheet.at(question.step)
            if phases and moment.step:
                start = scene.run.moment(scene.run.before_phase(question.step)).after
                said = phase_sentence(reading, moment, start, scene.limit)
            else:
                said = sentence(reading, moment, scene.limit)
            said = re.sub("address [0-9]+", "", f"{cue.words if cue else ''} {said}")
            numbers = re.findall("\N{MINUS SIGN}?[0-9]+", said)
            assert answer not in numbers, (question.prompt, said)


@EVERY
def test_no_question_comes_when_its_answer_is_there(path: Path) -> None:
    """What the display will show is asked before the number is on it, and nothing is asked when
    only the HALT is left."""
    for scene in scenes(read_file(path)):
        subjects = {each.line: each.subject.kind for each in scene.asked}
        for question in scene.questions:
            before = scene.run.moment(question.step).after
            after = scene.run.moment(question.reveal_step).after
            if subjects[question.line] == "output":
                assert after.sent > before.sent, question.prompt
            assert question.reveal_step < scene.run.last_step, question.prompt


# The tasks.


def solution(slug: str) -> str:
    """The program that the lesson's file gives as the solution of its task."""
    (found,) = [each.solution for each in read_file(LESSONS[slug]).scenes if each.task]
    assert found
    return found.source


@EVERY
def test_the_task_can_be_done_and_is_not_done_yet(path: Path) -> None:
    lesson = read_file(path)
    (scene,) = [each for each in lesson.scenes if each.task]
    assert scene.task and scene.solution
    assert check_task(scene.solution, scene.task, DEFAULT_LIMIT).passed
    assert not check_task(scene.program, scene.task, DEFAULT_LIMIT).passed


@EVERY
def test_the_cases_of_the_task_are_right(path: Path) -> None:
    lesson = read_file(path)
    format = lesson.header.machine
    task = TASKS[path.stem]
    (cases,) = [each.task.cases for each in lesson.scenes if each.task]
    (requests,) = [each.requests for each in lesson.scenes if each.task]
    assert len(cases) >= 3
    for case in cases:
        given = [format.signed(each) for each in case.inputs]
        assert task.outputs(given) == [format.signed(each) for each in case.outputs]
    for given in task.more:
        run = run_text(format, solution(path.stem), given, requests)
        assert outputs(run) == task.outputs(given), given
        assert run.finish().ending is Ending.HALTED


# What the programs of the scenes do for other inputs than those shown.


def test_the_largest_proper_factor_by_sympy() -> None:
    program = scene("09-village-hall", 1).program
    for number in range(2, 150):
        run = run_of(program, [number])
        assert outputs(run) == [largest_proper_factor(number)], number
        assert (outputs(run) == [1]) == isprime(number)


def test_the_higher_tide_for_any_two() -> None:
    program = scene("05-tide-gauge", 3).program
    edges = (-128, -100, -1, 0, 1, 31, 46, 127)
    for first in edges:
        for second in edges:
            assert outputs(run_of(program, [first, second])) == [max(first, second)]


def test_the_running_total_for_any_stops() -> None:
    program = scene("06-night-bus", 1).program
    for stops in ([0], [1, 0], [14, 3, 9, 0], [3, -2, 5, 0], [5, 0, 5, 0]):
        assert outputs(run_of(program, stops)) == running_totals(stops)


def test_the_countdown_for_any_number() -> None:
    program = scene("04-greenhouse-watering", 3).program
    for number in range(-3, 100):
        assert outputs(run_of(program, [number])) == countdown(number)


# What the notes say in numbers.

# Instructions and steps of a scene, by lesson and number of the scene.
RUNS = {
    ("01-library-lift", 3): (5, 34),
    ("02-ferry-ticket-machine", 1): (5, 36),
    ("03-bakery-scale", 1): (5, 36),
    ("03-bakery-scale", 2): (5, 36),
    ("04-greenhouse-watering", 3): (14, 84),
    ("08-cable-car", 1): (28, 204),
    ("08-cable-car", 2): (63, 464),
    ("09-village-hall", 4): (1500, 10630),
}


@pytest.mark.parametrize(("slug", "number"), RUNS, ids=lambda each: str(each))
def test_lengths_of_runs(slug: str, number: int) -> None:
    run = scene(slug, number).run
    assert (run.finish().cycles, run.last_step) == RUNS[slug, number]


def phase_lengths(run: Run, cycle: int) -> dict[Phase, int]:
    lengths: dict[Phase, int] = {}
    for _, at, kind, _ in run.steps():
        if at == cycle:
            lengths[kind.phase] = lengths.get(kind.phase, 0) + 1
    return lengths


def instruction_lengths(run: Run) -> list[int]:
    cycles = [at for _, at, _, _ in run.steps()]
    return [cycles.count(each) for each in dict.fromkeys(cycles)]


def test_notes_of_lesson_1() -> None:
    lesson = read_file(LESSONS["01-library-lift"])
    scale = lesson.scenes[0].scale
    assert scale
    assert [int(station.length * 10**9) for station in scale.stations] == [
        10_000_000,
        5_000_000,  # common practice: dies are from some 3 mm to some 25 mm wide
        500_000,
        80_000,
        2_000,  # common practice: metal of processes of about 1 µm, from memory
        1_000,  # common practice: processes of about 1989
        65,  # International Technology Roadmap for Semiconductors 2001, from memory
    ]
    assert scale.stations[3].length / scale.stations[4].length == 40
    # 'About half as wide as a little fingernail; a large one is wider than two.'
    assert scale.stations[0].length / scale.stations[1].length == 2
    # 'It is about 95 years', and a year has 31,557,600 seconds.
    assert 31_557_600 == 365.25 * 24 * 60 * 60
    assert round(3_000_000_000 / 31_557_600) == 95


def test_notes_of_lesson_2() -> None:
    lesson = read_file(LESSONS["02-ferry-ticket-machine"])
    run = lesson.scenes[0].run
    first = next(iter(run.steps()))[1]
    assert phase_lengths(run, first) == {Phase.FETCH: 4, Phase.DECODE: 1, Phase.EXECUTE: 3}
    assert instruction_lengths(run) == [8, 8, 8, 6, 6]
    assert lesson.scenes[0].program.labels == {5: "fare", 6: "bag", 7: "total"}
    # The homework, both ways. All other codes in the text: test_spelled_codes.py.
    notes = " ".join(lesson.source.split())
    read = ", ".join(bits(each) for each in ("LOAD #15", "ADD 6", "OUTPUT"))
    written = ", ".join(bits(each) for each in ("LOAD 6", "ADD #3", "HALT"))
    assert f"as instructions: {read}. Then" in notes
    assert f"(LOAD #15, ADD 6, OUTPUT; {written}.)" in notes


def test_notes_of_lesson_3() -> None:
    wrong_way = "INPUT\nSTORE full\nINPUT\nSUBTRACT full\nOUTPUT\nHALT\nfull: 0"
    assert outputs(run_text(EIGHT_BIT, wrong_way, [97, 35])) == [35 - 97]
    end = run_text(EIGHT_BIT, solution("03-bakery-scale"), [80, 35]).finish()
    assert end.memory[8:10] == [80, 35]
    one = scene("03-bakery-scale", 1).run.finish()
    assert [at for at, each in enumerate(one.memory) if each == 97] == [5]
    assert 97 not in (one.acc, one.mdr, one.mar)


def test_notes_of_lesson_4() -> None:
    # The word 6 is HALT, so without the jump nothing would be shown.
    program = scene("04-greenhouse-watering", 1).program
    assert outputs(Run(EIGHT_BIT, program.words[1:])) == []
    run = scene("04-greenhouse-watering", 3).run
    assert instruction_lengths(run) == [6, *[6, 6, 6] * 4, 6]
    program = scene("04-greenhouse-watering", 3).program
    for cans, steps in ((4, 84), (10, 192), (100, 1812)):
        assert run_of(program, [cans]).finish().steps == steps == 6 + 18 * cans + 6
    assert outputs(run_of(program, [0])) == [0]
    # Without IF MORE it goes on for ever, below nought as well.
    endless = "INPUT\nagain: OUTPUT\nSUBTRACT #1\nJUMP again\nHALT"
    run = run_of(assemble(EIGHT_BIT, endless), [4], limit=5_000)
    assert run.finish().ending is Ending.LIMIT
    assert outputs(run)[:7] == [4, 3, 2, 1, 0, -1, -2]
    # 'down to -128, then comes 127, and down it goes again'
    assert outputs(run)[: 4 + 128 + 3] == [*range(4, -129, -1), 127, 126]


def test_notes_of_lesson_5() -> None:
    source = scene("05-tide-gauge", 1).program.source

    def lamp(tide: int, mark: int, condition: str = "MORE") -> list[int]:
        changed = source.replace("IF MORE", f"IF {condition}")
        for label, number in (("tide", tide), ("mark", mark)):
            changed = re.sub(rf"({label}:\s+)\d+", rf"\g<1>{number}", changed)
        return outputs(run_text(EIGHT_BIT, changed))

    assert lamp(52, 48) == [1] and lamp(48, 48) == [0]
    assert lamp(52, 48, "EQUAL") == [0]
    assert lamp(48, 47) == [1] and lamp(47, 47) == [0]
    # The highest of three, and the homework.
    three = assemble(EIGHT_BIT, HIGHEST_OF_THREE)
    for given in ([1, 2, 3], [3, 2, 1], [2, 3, 1], [1, 1, 1], [-1, -2, -3], [5, 9, 9]):
        assert outputs(run_of(three, given)) == [max(given)]
    gate = GATE.format(most=15)
    for people in range(30):
        assert outputs(run_text(EIGHT_BIT, gate, [people])) == [int(people <= 15)]


def test_notes_of_lesson_6() -> None:
    # After 'A stop where nobody gets on' two inputs are left.
    second = scene("06-night-bus", 2)
    assert len(second.inputs) - second.run.finish().taken == 2
    both = assemble(EIGHT_BIT, TOTAL_AND_COUNT)
    assert outputs(run_of(both, [3, 5, 2, 0])) == [10, 3]


def test_notes_of_lesson_7() -> None:
    lesson = read_file(LESSONS["07-mountain-hut"])
    ladder = re.findall(r"^\| (\N{MINUS SIGN}?\d) \| ([01]{4} [01]{4}) \|", lesson.source, re.M)
    assert len(ladder) == 7
    written = [(int(a.replace("\N{MINUS SIGN}", "-")), b.replace(" ", "")) for a, b in ladder]
    written += [(5, "00000101"), (-5, "11111011"), (-1, "11111111"), (-7, "11111001")]  # data
    written += [(-100, "10011100"), (-128, "10000000")]  # data
    for number, pattern in written:
        assert numpy.uint8(int(pattern, 2)).view(numpy.int8) == number
    # A lost carry is no overflow; an answer that does not fit is.
    assert not lesson.scenes[1].run.finish().overflow
    assert lesson.scenes[2].run.finish().overflow
    # SUBTRACT in the place of COMPARE.
    source = lesson.scenes[3].program.source.replace("COMPARE", "SUBTRACT")
    run = run_text(EIGHT_BIT, source)
    moment = run.moment(run.after_instruction(run.after_instruction(0))).after
    assert EIGHT_BIT.signed(moment.acc) == 56 and moment.overflow and moment.status == "MORE"
    assert outputs(run) == [0]
    # The one number that has no opposite.
    run = run_text(EIGHT_BIT, solution("07-mountain-hut"), [-128])
    assert outputs(run) == [-128] and run.finish().overflow


def test_notes_of_lesson_8() -> None:
    program = scene("08-cable-car", 1).program
    for cabins, seats in ((3, 8), (8, 3), (25, 40)):
        assert run_of(program, [cabins, seats]).finish().cycles == 4 + 7 * cabins + 3
    assert outputs(run_of(program, [0, 8])) == [8]
    # The three ways to mend it that the notes speak of: two that work, and one that does not.
    source = program.source
    start = "STORE seats"
    look_first = source.replace(
        start, f"{start}\nLOAD cabins\nCOMPARE #0\nJUMP none IF EQUAL"
    ).replace("LOAD  total\n        OUTPUT", "none: LOAD total\nOUTPUT")
    into_the_loop = source.replace(start, f"{start}\nJUMP look").replace(
        "JUMP  again IF MORE", "look: LOAD cabins\nCOMPARE #0\nJUMP again IF MORE"
    )
    too_early = source.replace(start, f"{start}\nJUMP look").replace(
        "LOAD  cabins", "look: LOAD cabins"
    )
    for mended in (look_first, into_the_loop):
        for cabins, seats in ((3, 8), (0, 8), (1, 5), (12, 0), (25, 40)):
            assert outputs(run_text(SIXTEEN_BIT, mended, [cabins, seats])) == [cabins * seats]
    assert outputs(run_text(SIXTEEN_BIT, too_early, [3, 8])) == [16]
    assert SIXTEEN_BIT.largest == 32_767
    run = run_of(program, [200, 200])
    assert outputs(run) == [wrapped(200 * 200, numpy.int16)] == [-25_536]
    # The mark came up at one ADD, and was out again after the next SUBTRACT.
    marked = [
        state.overflow
        for state in instruction_ends(run)
        if SIXTEEN_BIT.split(state.cir)[0] in (code("ADD a"), code("SUBTRACT #n"))
    ]
    assert marked.count(True) == 1 and not run.finish().overflow
    assert divmod(50, 8) == (6, 2)


def instruction_ends(run: Run) -> Iterator[State]:
    step = 0
    while (on := run.after_instruction(step)) != step:
        step = on
        yield run.moment(step).after


def test_notes_of_lesson_9() -> None:
    program = scene("09-village-hall", 1).program
    row = program.address_of("row")
    assert row is not None

    def tries(number: int) -> int:
        return number - run_of(program, [number]).finish().memory[row]

    assert [tries(each) for each in (9, 7, 143, 91, 97)] == [6, 6, 130, 78, 96]
    assert [largest_proper_factor(each) for each in (91, 97, 143)] == [13, 1, 13]
    assert run_of(program, [1], limit=5_000).finish().ending is Ending.LIMIT
    for number in range(2, 200):
        assert divisors(number)[1] * largest_proper_factor(number) == number


def test_notes_of_lesson_10() -> None:
    notes = " ".join(read_file(LESSONS["10-lighthouse-list"]).source.split())
    for text, said in (
        ("LOAD 0", "the word is {bits}. Read as a number, that is {number}:"),
        ("LOAD 0", "The same word as data: {bits} is the number {number}."),
        ("LOAD #7", "*{number} in binary?* {bits}."),
        ("LOAD 9", "{number} is {bits}, LOAD 9;"),
        ("LOAD 10", "{number} is {bits}, LOAD 10."),
        ("LOAD #7", "{number} is {bits}, LOAD #7, so the answer is 7."),
        ("ADD #2", "{number} is {bits}, ADD #2, so the answer is 7"),
        ("SUBTRACT #3", "{number} is {bits}, SUBTRACT #3, so the answer is 2."),
        ("OUTPUT", "({bits} is {number};"),
        ("LOAD #15", "; {bits} is {number}.)"),
    ):
        number = str(wrapped(word(text), numpy.int8)).replace("-", "\N{MINUS SIGN}")
        assert said.format(bits=bits(text), number=number) in notes, (text, said)
    # Started again without being loaded anew, the program shows nothing.
    used = scene("10-lighthouse-list", 3).run.finish()
    again = Run(EIGHT_BIT, used.memory)
    assert used.memory[0] == word("LOAD 12")
    assert again.finish().ending is Ending.HALTED and outputs(again) == []
    for number in range(16):
        assert outputs(run_text(EIGHT_BIT, solution("10-lighthouse-list"), [number])) == []
