"""What a press does. The steps are counted by hand from the description of the machine: a fetch
is 4 steps, a decode 1, the execution of LOAD #n 1, of STORE 3 and of HALT 1."""

from __future__ import annotations

from dataclasses import replace
from itertools import islice, product
from pathlib import Path

import pytest

from app.lesson.asking.questions import AskedQuestion
from app.lesson.file.reader import read_file, read_lesson
from app.lesson.header import Depth, Press
from app.lesson.model import Scene
from app.lesson.pressing import MOST_COUNTED, QUESTION_PRESSES, Pressing, presses_of
from app.lesson.timeline import Span, Spans
from app.machine.addressing import WRITTEN
from app.machine.instructions import INSTRUCTIONS, define
from app.machine.machine import SIXTEEN_BIT
from app.machine.source.assembler import assemble
from app.paths import resource

PROGRAM = "```program\n        LOAD #5\n        STORE kept\n        HALT\nkept:   0\n```\n"
# The fetches end at 4, 10 and 18; the instructions at 6, 14 and 20.
CUES = "```cues\nstart: One.\nstart: Two.\nfetch 2: Three.\nwhen kept changes: Four.\n```\n"
QUESTION = "```question\nbefore execute 2: What is kept?\nask: what is stored in kept\n```\n"


def scene(press: str = "", more: str = "", depth: str = "transfers") -> Scene:
    head = f"---\ntitle: T\nmachine: 8-bit\ndepth: {depth}\n---\n"
    said = f"press: {press}\n" if press else ""
    lesson = read_lesson("t", f"{head}# One\n{said}\n{PROGRAM}{more}")
    assert lesson.faults == ()
    return lesson.scenes[0]


def steps(scene: Scene) -> list[int]:
    pressing = Pressing(scene, scene.depth)
    found = [0]
    while (following := pressing.on(found[-1], {1})) != found[-1]:
        found.append(following)
    return found


def test_the_run_is_as_counted() -> None:
    assert scene().run.last_step == 20


@pytest.mark.parametrize(
    ("press", "depth", "expected"),
    [
        ("", "transfers", [*range(21)]),
        ("transfer", "transfers", [*range(21)]),
        ("", "phases", [0, 4, 5, 6, 10, 11, 14, 18, 19, 20]),
        ("transfer", "phases", [0, 4, 5, 6, 10, 11, 14, 18, 19, 20]),
        ("phase", "transfers", [0, 4, 5, 6, 10, 11, 14, 18, 19, 20]),
        ("instruction", "transfers", [0, 6, 14, 20]),
        ("cue", "transfers", [0, 10, 14, 20]),
        ("cue", "phases", [0, 10, 14, 20]),
    ],
)
def test_how_far_a_press_goes_on_and_back(press: str, depth: str, expected: list[int]) -> None:
    made = scene(press, CUES, depth)
    assert steps(made) == expected
    pressing = Pressing(made, made.depth)
    assert [pressing.back(each) for each in expected[1:]] == expected[:-1]
    assert pressing.count == len(expected) - 1 + 1  # the second cue at the start


@pytest.mark.parametrize("press", ["transfer", "phase", "instruction", "cue"])
def test_no_press_goes_past_a_question(press: str) -> None:
    made = scene(press, CUES + QUESTION)
    pressing = Pressing(made, made.depth)
    step = 0
    while pressing.here(step) is None:
        following = pressing.on(step)
        assert step < following <= 11
        step = following
    assert step == 11
    # Asked, it is passed; its answer is the store, at step 14.
    assert pressing.here(11, {1}) is None
    assert pressing.on(11, {1}) <= 14


def test_a_question_in_the_middle_of_a_phase_is_asked_before_it() -> None:
    question = "```question\nbefore when kept changes: What?\nask: what is stored in kept\n```\n"
    made = scene("", question, "phases")
    (asked,) = made.questions
    assert asked.step == 13
    pressing = Pressing(made, made.depth)
    assert pressing.ask_step(asked) == 11
    assert pressing.here(11) == asked
    assert Pressing(made, Depth.TRANSFERS).ask_step(asked) == 13


def test_a_question_takes_presses_of_its_own() -> None:
    without, asking = scene("phase", CUES), scene("phase", CUES + QUESTION)
    # The run to the answer, from 11 to 14, is one of its presses; a cue comes up with the answer,
    # and one press more puts the question away for it.
    presses = Pressing(asking, asking.depth)
    assert presses.covers_a_cue(asking.questions[0], 14)
    assert presses.count == Pressing(without, without.depth).count + QUESTION_PRESSES - 1 + 1


def test_a_run_without_an_end_is_not_counted_to_it() -> None:
    head = "---\ntitle: T\nmachine: 8-bit\n---\n"
    endless = "# One\n\n```program\nagain: JUMP again\n```\n"
    (scene,) = read_lesson("t", head + endless).scenes
    assert Pressing(scene, scene.depth).count == MOST_COUNTED


def test_presses_are_counted_as_far_on_a_machine_with_longer_instructions() -> None:
    """The shuffle takes 22 steps. The loop is so long that every counted press is one of them."""
    words = "; ".join(["MDR <- ACC; {value} <- MDR"] * 8)
    shuffle = define(16, "SHUFFLE", WRITTEN, words, "copy the accumulator to {value} again")
    machine = replace(SIXTEEN_BIT, instructions=(*INSTRUCTIONS, shuffle))
    assert machine.longest == 22
    program = assemble(machine, "again: " + "SHUFFLE 200\n" * 100 + "JUMP again")
    assert program.problems == ()
    made = Scene("T", 1, "", program, (), 1000, press=Press.INSTRUCTION)
    assert Pressing(made, made.depth).count == MOST_COUNTED


@pytest.mark.parametrize(
    "path", sorted(resource("lessons").glob("*.md")), ids=lambda each: each.stem
)
def test_every_scene_that_ships_is_taught_in_forty_presses(path) -> None:  # type: ignore[no-untyped-def]
    counts = {each.title: Pressing(each, each.depth).count for each in read_file(path).scenes}
    assert max(counts.values()) <= 40, counts


def pressed(scene: Scene, depth: Depth, press: Press) -> int:
    """The presses of a scene, made one after the other."""
    pressing = Pressing(scene, depth, press)
    step, presses = 0, max(scene.cue_sheet.opening - 1, 0)
    asked: set[int] = set()
    while True:
        question = pressing.here(step, asked)
        if question:
            asked.add(question.number)
            presses += QUESTION_PRESSES - question.late
            if not question.late:
                step = question.reveal_step
                presses += pressing.covers_a_cue(question, step)
        elif (following := pressing.on(step, asked)) == step:
            return presses
        else:
            step, presses = following, presses + 1


@pytest.mark.parametrize("name", ["15-clock-tower", "17-bicycle-workshop"])
def test_counted_are_the_presses_that_are_made(name: str) -> None:
    """Answers of these lessons are shown in the middle of a phase, from where the next cue that
    has begun before is behind."""
    for each in read_file(resource("lessons") / f"{name}.md").scenes:
        for depth in Depth:
            for press in (Press.CUE, Press.PHASE, Press.INSTRUCTION):
                counted = Pressing(each, depth, press).count
                assert counted == pressed(each, depth, press), (each.title, depth, press)


def test_cues_that_come_again_and_again_are_looked_at_once_each(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """At each of hundreds of presses each of two hundred cues was looked for at each step of its
    place among all the others: a lesson of 2 KB took a minute."""
    looked = 0
    meeting = Spans.meeting

    def counted(self: Spans, first: int, last: int) -> Span | None:
        nonlocal looked
        looked += 1
        return meeting(self, first, last)

    places = [
        f"each {phase}{of}"
        for phase in ("fetch", "decode", "execute")
        for of in (" of ADD", " at a")
    ]
    cues = "".join(f"{each}: W\n" for each in [*places, "each ADD", "each at a"] * 25)
    program = "```program\na: ADD #1\nJUMP a\n```\n"
    text = f"---\ntitle: T\npress: cue\n---\n# One\n{program}```cues\n{cues}```\n"
    (made,) = read_lesson("t", text).scenes
    monkeypatch.setattr(Spans, "meeting", counted)
    pressing = Pressing(made, made.depth)
    assert pressing.count == MOST_COUNTED
    # Each step of the run so far once, and there each place once: many cues have the same.
    different = len(places) + 2
    assert looked <= different * made.run.machine.longest * MOST_COUNTED
    assert looked <= pressing.looked <= looked + different * MOST_COUNTED


@pytest.mark.parametrize("names", ["labels", "letters"])
def test_one_place_by_many_names_is_looked_at_once(names: str) -> None:
    """Two hundred cues for the change of one word, each by another label of it, were 80,000 places
    to look at, and each was gone to: 5 seconds for 6 KB."""
    labels = "".join(f"x{at}:\n" for at in range(200)) + "1"
    program = f"```program\na: ADD #1\nSTORE x0\nJUMP a\n{labels}\n```\n"
    if names == "labels":
        words = [f"x{at}" for at in range(200)]
    else:
        signs = product(*((each, each.upper()) for each in "accumulator"))
        words = ["".join(each) for each in islice(signs, 200)]
    cues = "".join(f"when {each} changes: W\n" for each in words)
    head = "---\ntitle: T\nmachine: 16-bit\ndepth: phases\n---\n# One\npress: cue\n"
    (made,) = read_lesson("t", f"{head}{program}```cues\n{cues}```\n").scenes
    assert len(made.cues) == len(words) == 200 and not made.cue_sheet.unused
    pressing = Pressing(made, made.depth)
    assert pressing.count == MOST_COUNTED
    # Each press goes to one place, at which one cue of all stands.
    assert pressing.looked <= 3 * MOST_COUNTED


SHIPPED = sorted(resource("lessons").glob("*.md"))


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_where_a_phase_ends_is_the_same_whether_it_is_gone_to_or_known(path: Path) -> None:
    for each in read_file(path).scenes:
        if each.paced is not each.run or not each.program.words:
            continue
        for step in range(1, min(each.timeline.last_step, 400) + 1):
            assert each.timeline.end_of_phase(step) == each.run.after_phase(step - 1), step
        assert each.timeline.end_of_phase(0) == 0


def test_where_questions_are_asked_is_found_once(monkeypatch: pytest.MonkeyPatch) -> None:
    found = 0
    ask_step = Pressing.ask_step

    def counted(self: Pressing, question: AskedQuestion) -> int:
        nonlocal found
        found += 1
        return ask_step(self, question)

    monkeypatch.setattr(Pressing, "ask_step", counted)
    each = "```question\nbefore each ADD: W\nask: the accumulator\n```\n" * 10
    text = f"---\ntitle: T\n---\n# One\n```program\na: ADD #1\nJUMP a\n```\n{each}"
    (made,) = read_lesson("t", text).scenes
    assert len(made.questions) == 60
    assert Pressing(made, Depth.PHASES, Press.PHASE).count == MOST_COUNTED and found == 60


def test_of_scenes_that_take_too_long_to_count_no_more_are_counted(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    made = scene("cue", CUES)
    assert [*presses_of([made] * 3)] == [Pressing(made, made.depth).count] * 3
    monkeypatch.setattr("app.lesson.pressing.MOST_LOOKED_AT", 1)
    assert [*presses_of([made] * 3)] == [Pressing(made, made.depth).count, None, None]
