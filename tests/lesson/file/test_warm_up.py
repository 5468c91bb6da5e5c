"""A warm-up: for every mix-up that a shipped lesson finds out, five questions that find it out,
and what is right in them is what the hardware does (:mod:`tests.hardware.rtl`)."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.lesson.asking.mixups import MixUp
from app.lesson.file.reader import read_lesson
from app.lesson.file.shelf import MOST_MADE, Shelf
from app.lesson.file.taught import Taught, about
from app.lesson.file.warm_up import (
    LARGEST_SEED,
    QUESTIONS,
    WarmUpName,
    _finders,
    read_name,
    warm_up,
)
from app.lesson.file.warm_up_shapes import SHAPES
from app.lesson.header import Depth
from app.lesson.model import Lesson, Scene
from app.machine.growing import PARTS, grown, key_of
from app.machine.machine import EIGHT_BIT
from app.paths import resource
from tests.asking import ASKING
from tests.lesson.asking.claims import show
from tests.lesson.asking.test_reasons import Traced

SHELF = Shelf(resource("lessons"))


def found_out(lesson: Lesson) -> set[MixUp]:
    """The mix-ups that the questions of a lesson find out."""
    questions = [each for scene in lesson.scenes for each in scene.questions]
    return {MixUp(mixup) for each in questions for mixup in each.mixups if mixup}


@cache
def wanted() -> dict[tuple[str, MixUp], Lesson]:
    """Every mix-up of every machine that a shipped lesson has, with such a lesson."""
    return {
        (key_of(lesson.header.machine), mixup): lesson
        for lesson in SHELF.lessons()
        for mixup in found_out(lesson)
    }


def truth(scene: Scene, subject: str, target: str, step: int) -> str:
    """What the hardware says after a step, as a choice says it."""
    program = scene.program
    traced = Traced(program, [program.machine.signed(each) for each in scene.inputs])
    at = traced.snapshots[step]
    signed = program.machine.signed
    match subject:
        case "ACC":
            return show(signed(at.acc))
        case "X":
            return show(signed(at.x))
        case "SP" | "carry":
            return str(getattr(at, subject.lower()))
        case "status":
            return at.status or "no comparison yet"
        case "memory":
            labels = {label: address for address, label in program.labels.items()}
            return show(
                signed(at.memory[labels.get(target, int(target) if target.isdigit() else 0)])
            )
        case "output":
            return ", ".join(show(signed(each)) for each in at.outputs) or "nothing yet"
    raise AssertionError(subject)


def test_five_questions_for_every_mixup_of_every_machine() -> None:
    held = 0
    found = set()
    for (_, mixup), source in wanted().items():
        made = warm_up(WarmUpName(source.slug, 11, (mixup,)), source)
        assert made.problems == () and len(made.scenes) == QUESTIONS, (source.slug, mixup)
        taught = Taught.by(source)
        for scene in made.scenes:
            (asked,) = scene.questions
            found |= {each for each in asked.mixups if each}
            assert any(asked.mixups), (source.slug, mixup, asked)
            # Nothing in it that the lesson has not used.
            assert taught.knows(scene.program), (source.slug, scene.program.source)
            # A wrong answer has its reason, and is not the right one.
            assert all(why for at, why in enumerate(asked.reasons) if at != asked.answer)
            subject = scene.asked[0].subject
            right = asked.choices[asked.answer]
            if subject.kind in ("PC", "MAR"):
                number = int(right.split()[0])
                traced = Traced(scene.program, [*scene.inputs])
                held += 1
                at = traced.snapshots[asked.reveal_step]
                assert number == (at.pc if subject.kind == "PC" else at.mar)
                assert number not in standing(scene)
            elif subject.kind not in ("CIR", "jump"):
                held += 1
                said = truth(scene, subject.kind, subject.target, asked.reveal_step)
                assert right == said, (scene.program.source, asked)
                # Whoever copies a number from the program is never right.
                assert right not in map(show, standing(scene)), (scene.program.source, asked)
    assert held > 100 and len(wanted()) > 30
    # What more kinds of machines have is not always in a program so short.
    assert len(found) >= 18, sorted(found)


def standing(scene: Scene) -> list[int]:
    """The numbers that are written in a program, and those that come in."""
    code = re.sub(r";.*", "", scene.program.source)
    written = [int(each) for each in re.findall(r"-?\b\d+\b", code)]
    return written + [scene.program.machine.signed(each) for each in scene.inputs]


FERRY = {"LOAD", "LOAD #", "ADD", "ADD #", "STORE", "OUTPUT", "INPUT", "HALT"}


@pytest.mark.parametrize("seed", range(3))
def test_after_the_second_lesson_only_what_it_has(seed: int) -> None:
    """Its programs, tasks and solutions, read by hand: nothing is compared, nothing jumps."""
    source = SHELF.lesson("02-ferry-ticket-machine")
    assert source
    made = warm_up(WarmUpName(source.slug, seed), source)
    assert len(made.scenes) == QUESTIONS
    skeletons = set()
    for scene in made.scenes:
        lines = [
            each
            for each in scene.program.source.splitlines()
            if not each.strip()[-1:].isdigit() or not re.match(r"\w+:", each)
        ]
        for line in lines:
            words = line.split(":")[-1].split()
            name = words[0] + (" #" if words[1:] and words[1].startswith("#") else "")
            assert name in FERRY, (name, scene.program.source)
        skeletons.add(tuple(re.sub(r"(?!\A)[a-z0-9]+", "", each) for each in lines))
        (asked,) = scene.questions
        said = " ".join((asked.prompt, asked.because, *asked.reasons)).casefold()
        assert "status" not in said and "compar" not in said, said
        assert "wraps" not in said, said
        assert "status" not in scene.cue_sheet.parts(asked.step)
    assert len(skeletons) == QUESTIONS


def test_it_asks_at_the_instruction_that_the_lesson_asked_at() -> None:
    source = SHELF.lesson("07-mountain-hut")
    assert source
    made = warm_up(WarmUpName(source.slug, 3, (MixUp.SETS_STATUS,)), source)
    (first, *_) = made.scenes
    assert about(first, first.questions[0]) in {
        about(scene, asked)
        for scene in source.scenes
        for asked in scene.questions
        if MixUp.SETS_STATUS in asked.mixups
    }


def numbers(scenes: Sequence[Scene]) -> list[int]:
    """The numbers that programs were given."""
    found = []
    for scene in scenes:
        words = zip(scene.program.words, scene.program.origins, strict=True)
        found += [word for word, origin in words if origin.is_data] + [*scene.inputs]
    return found


@pytest.mark.parametrize("slug", ["02-ferry-ticket-machine", "05-tide-gauge"])
def test_the_numbers_are_new_each_time(slug: str) -> None:
    source = SHELF.lesson(slug)
    assert source
    mixups = tuple(sorted(found_out(source)))[:QUESTIONS]
    seen: set[str] = set()
    for seed in range(4):
        made = warm_up(WarmUpName(slug, seed, mixups), source)
        # The same name gives the same lesson.
        assert made.source == warm_up(WarmUpName(slug, seed, mixups), source).source
        assert made.source not in seen
        seen.add(made.source)
        # No number comes in two of its programs, or stands in the lesson; one just under the
        # largest of a word is beside those.
        each_has = [{n for n in numbers([scene]) if 9 < n < 90} for scene in made.scenes]
        large = [number for every in each_has for number in every]
        assert len({*large}) == len(large), (seed, large)
        assert not {*numbers(source.scenes)} & {*large}, seed


# A scene that has what is needed to ask about jumps and about the order of two numbers.
COMPARING = """
# Which is more

```program
        LOAD  left
        COMPARE right
        JUMP  more IF MORE
        SUBTRACT right
        LOAD  #0
        COMPARE #3
        SUBTRACT #1
        ADD   #1
        STORE left
        JUMP  more
more:   OUTPUT
        HALT
left:   9
right:  4
```
"""


def test_mixups_take_turns_and_those_that_cannot_be_asked_are_left_out() -> None:
    source = read_lesson("asking", ASKING + COMPARING)
    mixups = (MixUp.JUMP_TAKEN, MixUp.STACK_WAY, MixUp.ORDER)
    made = warm_up(WarmUpName("asking", 5, mixups), source)
    named = [scene.notes for scene in made.scenes]
    turns = [next(each for each in mixups if each in notes) for notes in named]
    jump, order = MixUp.JUMP_TAKEN, MixUp.ORDER
    assert turns == [jump, order, jump, order, jump]


def test_without_a_mixup_it_asks_what_the_lesson_asks() -> None:
    source = read_lesson("asking", ASKING)
    made = warm_up(WarmUpName("asking", 5), source)
    assert len(made.scenes) == QUESTIONS and found_out(made) & found_out(source)
    # Nobody is said to have mixed anything up.
    assert all("often mixed up" in each.notes for each in made.scenes)
    # A lesson that asks nothing gives nothing to ask.
    silent = read_lesson(
        "silent", "---\ntitle: A\nmachine: 8-bit\n---\n# One\n```program\nHALT\n```"
    )
    assert not warm_up(WarmUpName("silent", 5), silent).can_be_taught


def test_it_is_a_lesson_in_the_words_of_its_course() -> None:
    text = ASKING.replace(
        "machine: 8-bit",
        "machine: 16-bit\ndepth: phases\nwords: decimal, IR, MBR, AC\ncounter moves: second"
        "\nwith: stack, index register",
    )
    text = text.replace("title: Ferry tickets", 'title: "Say \\"a: b\\" # \\\\ λ"')
    source = read_lesson("asking", text)
    assert source.can_be_taught
    made = warm_up(WarmUpName("asking", 5, (MixUp.OTHER_INSTRUCTION, MixUp.STACK_WAY)), source)
    assert made.problems == () and len(made.scenes) == QUESTIONS
    header = made.header
    assert header.title == 'Warm-up: Say "a: b" # \\ λ'
    assert (header.machine, header.depth) == (source.header.machine, source.header.depth)
    assert header.wording == source.header.wording
    said = "".join(each.prompt for scene in made.scenes for each in scene.questions)
    assert "current instruction register" not in said and "instruction register" in said
    # As a file it is the same lesson, wherever it is put.
    assert read_lesson("elsewhere", made.source).scenes == made.scenes


names = st.builds(
    WarmUpName,
    st.text(st.characters(exclude_characters="~\n\r"), min_size=1).filter(
        lambda each: each.strip()
    ),
    st.integers(0, LARGEST_SEED),
    st.lists(st.sampled_from(MixUp), max_size=QUESTIONS).map(tuple),
)


@given(names)
def test_a_name_says_all(name: WarmUpName) -> None:
    assert read_name(str(name)) == name


@given(st.text())
def test_any_other_text_is_no_name(text: str) -> None:
    found = read_name(text)
    assert found is None or str(found) == text
    for wrong in (f"a~warm-up~{text}~x", f"a~warm-up~7~{text}", f"b~warm-up~3~warm-up~{text}"):
        found = read_name(wrong)
        assert found is None or len(found.mixups) <= QUESTIONS


@pytest.mark.parametrize(
    "text",
    [
        "a~warm-up~5~order" + "~order" * QUESTIONS,
        "a~warm-up~12345",
        "a~warm-up~5~warm-up~6",
        "~warm-up~5",
    ],
)
def test_what_is_no_name(text: str) -> None:
    assert read_name(text) is None


def test_the_shelf_keeps_few() -> None:
    shelf = Shelf(resource("lessons"))
    name = "02-ferry-ticket-machine~warm-up~{}~order"
    first = shelf.lesson(name.format(1))
    assert first and first is shelf.lesson(name.format(1))
    assert shelf.good_lesson(name.format(1)) is first
    assert shelf.lesson("gone~warm-up~1~order") is None
    for seed in range(2, 5):
        shelf.lesson(name.format(seed))
    assert len(shelf._made) == 4 <= MOST_MADE
    assert all(each.header.title for each in shelf.lessons())


def test_no_question_is_written_in_vain() -> None:
    """On the smallest machine or on the largest, each finds a mix-up out."""
    useful = {
        (id(shape), ask)
        for machine in (EIGHT_BIT, grown(frozenset(PARTS)))
        for pairs in _finders(machine, Depth.TRANSFERS).values()
        for shape, ask in pairs
    }
    for shape in SHAPES:
        for ask in shape.asks:
            assert (id(shape), ask) in useful, (shape.program, ask)


@pytest.mark.parametrize("line", ["gates: shapes", "characters: yes"])
def test_a_warm_up_shows_gates_and_characters_as_its_lesson_does(line: str) -> None:
    source = read_lesson("shown", ASKING.replace("---\n", f"---\n{line}\n", 1))
    made = warm_up(WarmUpName("shown", 3), source)
    assert made.scenes and made.problems == ()
    assert (made.header.gates, made.header.characters) == (
        source.header.gates,
        source.header.characters,
    )
    assert source.header != read_lesson("shown", ASKING).header
