"""What is written by pointing: nothing else moves, the check takes it, and the board does it.

The board is ``Session``, which teaches the class: what it shows is what is asked for here.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from itertools import zip_longest
from pathlib import Path
from random import Random

import pytest

from app.classroom.session import Session
from app.lesson.entries import Wrong
from app.lesson.file import prose, reader
from app.lesson.file.reader import read_lesson
from app.lesson.model import Lesson
from app.lesson.writing import pointing
from app.lesson.writing.asking_here import as_typed, ask, askings, question_on, without_question
from app.lesson.writing.heading import set_title
from app.lesson.writing.manuscript import Manuscript
from app.lesson.writing.offers import best, phase_at, to_ask, to_say
from app.lesson.writing.outline import outline
from app.lesson.writing.pointing import pace, pause, pauses, point
from app.lesson.writing.saying import (
    change_words,
    entry_lines,
    move,
    places_to_move,
    say,
    unsay,
)
from app.lesson.writing.text import Text, typed
from app.lesson.writing.whole_parts import (
    add_program,
    add_scene,
    cases_of,
    first_lesson,
    set_inputs,
    set_task,
)
from app.machine.machine import EIGHT_BIT
from app.machine.run import Run
from app.machine.state import State

from .generated import lesson as generated_lesson

SHIPPED = sorted((Path(__file__).parents[3] / "lessons").glob("*.md"))
WORDS = (
    "Look at the counter.",
    "It is 5: five, and not 4.",
    "A long cue that says a good deal more than fits in one line of the file, so that it has to go"
    " on in the next one, as somebody would write it by hand.",
    "“Quoted” – with signs of all kinds; and a semicolon, too.",
)


def board(manuscript: Manuscript, number: int, step: int, said: int = 0) -> Session:
    """The board at a step of a scene, as a class would see it."""
    session = Session("test", manuscript.lesson)
    session.go_to_scene(number)
    session.go_to_step(step, said)
    return session


def lines_gone(before: str, after: str) -> range:
    """The lines (from 0) of a text that a change took away or wrote anew, ends and all."""
    old, new = Text.of(before), Text.of(after)
    one = list(zip(old.lines, old.ends, strict=True))
    other = list(zip(new.lines, new.ends, strict=True))
    start = next((n for n, (a, b) in enumerate(zip_longest(one, other)) if a != b), len(one))
    most = min(len(one), len(other)) - start
    tail = zip(reversed(one), reversed(other), strict=False)
    stop = next((n for n, (a, b) in enumerate(tail) if a != b or n == most), most)
    return range(start, len(one) - stop)


def only_adds(before: str, after: str) -> str:
    """What was put into a text of which every byte is still there."""
    first = next((n for n, (a, b) in enumerate(zip(before, after, strict=False)) if a != b), 0)
    first = first if before[:first] == after[:first] and first else len(before)
    if after.startswith(before):
        return after[len(before) :]
    rest = before[first:]
    # What was put there may start with the very letters that came next.
    for at in range(first, -1, -1):
        if after.endswith(before[at:]):
            assert after[:at] == before[:at]
            return after[at : len(after) - len(before[at:])]
    raise AssertionError(f"bytes are gone: {rest[:80]!r}")


class Writer:
    """One random change by pointing at a manuscript, held to what the board then does."""

    def __init__(self, manuscript: Manuscript, draw: Random) -> None:
        self.before, self.draw = manuscript, draw
        self.number = draw.randrange(len(manuscript.lesson.scenes))
        self.scene = manuscript.lesson.scenes[self.number]
        self.step = 0
        if self.scene.program.words:
            last = self.scene.timeline.last_step
            self.step = draw.choice((0, last, draw.randint(0, min(last, 60))))

    def change(self) -> Manuscript | None:
        """None where there was nothing to do at this moment."""
        ways = (self.say, self.say, self.point, self.point, self.ask, self.ask)
        more = (self.pause, self.pace, self.reword, self.unsay, self.inputs, self.forget)
        made = self.draw.choice((*ways, *more))()
        if made is not None:
            assert not made.lesson.faults
            self._only_one_block(made)
        return made

    def _only_one_block(self, made: Manuscript) -> None:
        """All lines outside of the one block that is written into have their bytes."""
        gone = lines_gone(self.before.source, made.source)
        # An empty line more or less stands beside a block that came or went; and what was the
        # last line of the file may have got an end.
        lines = self.before.text.lines
        written = [each for each in gone if lines[each].strip()]
        whole = len(made.text.lines) < len(lines)  # a block that is gone: see what takes it away
        if written and not whole and written[-1] != len(lines) - 1:
            block = self.before.outline.block_of(written[0])
            assert block and block is self.before.outline.block_of(written[-1])

    @property
    def whole(self) -> bool:
        """Whether the board ever stands at this step."""
        depth = self.scene.depth
        return depth == "transfers" or not self.step or self._ends_a_phase()

    def _ends_a_phase(self) -> bool:
        return self.scene.run.after_phase(self.step - 1) == self.step

    def say(self) -> Manuscript | None:
        offers = to_say(self.scene, self.step) if self.whole else ()
        if not offers:
            return None
        words = self.draw.choice(WORDS)
        after = say(self.before, self.number, self.step, self.draw.choice(offers), words)
        only_adds(self.before.source, after.source)
        assert board(after, self.number, self.step, 99).view().cue.words == words  # type: ignore[union-attr]
        assert Text.of(after.source).lines[after.line - 1].strip().count(":") >= 1
        return after

    def point(self) -> Manuscript | None:
        if not self.scene.program.words or not self.whole:
            return None
        part = self.draw.choice(("output", "ALU", "MAR", "data bus", "memory", "status"))
        try:
            after = point(self.before, self.number, self.step, 0, part)
        except Wrong:
            return None
        before_parts = self.scene.cue_sheet.parts(self.step, 0)
        hidden = board(after, self.number, self.step).view().hidden
        was = board(self.before, self.number, self.step).view().hidden
        by_depth = {"MAR", "MDR"} if self.scene.depth == "phases" else set()
        assert (part in hidden) == (part in before_parts or part in by_depth)
        assert hidden ^ was <= {part}
        again = point(after, self.number, self.step, 0, part)
        assert board(again, self.number, self.step).view().hidden == was
        return after

    def ask(self) -> Manuscript | None:
        offers = to_ask(self.scene, self.step) if self.whole else ()
        if not offers:
            return None
        place = self.draw.choice(offers).place
        found = askings(self.scene, place)
        if not found:
            return None
        chosen = self.draw.choice(found)
        prompt = f"{chosen.prompt} Before {place}."
        after = ask(self.before, self.number, self.step, place, chosen.subject, prompt)
        only_adds(self.before.source, after.source)
        session = board(after, self.number, self.step)
        asked = next(each for each in session.questions if each.prompt == prompt)
        assert asked.step == self.step
        shown = chosen.asked
        assert set(asked.choices) == set(shown.choices)
        right = asked.choices[asked.answer]
        assert right == shown.choices[shown.answer]
        return after

    def pause(self) -> Manuscript | None:
        try:
            after = pause(self.before, self.number, self.step)
        except Wrong:
            return None
        made = after.lesson.scenes[self.number]
        assert pauses(made, self.step) != pauses(self.scene, self.step)
        return after

    def pace(self) -> Manuscript | None:
        try:
            after = pace(self.before, self.number, self.step, 0, 4.0)
        except Wrong:
            return None
        assert board(after, self.number, self.step).view().settings.speed == 4.0
        return after

    def reword(self) -> Manuscript | None:
        cues = [each for each in self.scene.cues if each.words]
        if not cues:
            return None
        cue = self.draw.choice(cues)
        words = self.draw.choice(WORDS)
        after = change_words(self.before, self.number, cue.line, words)
        made = next(x for x in after.lesson.scenes[self.number].cues if x.line == cue.line)
        assert (made.words, made.actions, made.text) == (words, cue.actions, cue.text)
        return after

    def unsay(self) -> Manuscript | None:
        if not self.scene.cues:
            return None
        cue = self.draw.choice(self.scene.cues)
        after = unsay(self.before, self.number, cue.line)
        only_adds(after.source, self.before.source)
        assert len(after.lesson.scenes[self.number].cues) == len(self.scene.cues) - 1
        return after

    def forget(self) -> Manuscript | None:
        if not self.scene.asked:
            return None
        line = self.draw.choice(self.scene.asked).line
        after = without_question(self.before, self.number, line)
        only_adds(after.source, self.before.source)
        assert len(after.lesson.scenes[self.number].asked) == len(self.scene.asked) - 1
        return after

    def inputs(self) -> Manuscript | None:
        if not self.scene.program.words or self.scene.scale:
            return None
        after = set_inputs(self.before, self.number, "1 2,-3")
        machine = self.scene.program.machine
        assert after.lesson.scenes[self.number].inputs == (1, 2, machine.pattern(-3))
        return after


def test_a_thousand_changes_on_lessons_of_all_shapes() -> None:
    draw = Random(1948)
    made = tried = 0
    kinds = set()
    while made < 1000:
        manuscript = Manuscript("generated", generated_lesson(draw))
        assert not manuscript.lesson.faults, manuscript.lesson.faults
        for _ in range(10):
            tried += 1
            after = Writer(manuscript, draw).change()
            if after is not None:
                kinds |= set(Text.of(after.source).ends)
                manuscript, made = after, made + 1
    assert kinds == {"\n", "\r\n", "\r", ""}
    assert tried < 2000


@pytest.mark.parametrize("path", SHIPPED, ids=lambda each: each.stem)
def test_changes_on_the_lessons_that_ship(path: Path) -> None:
    draw = Random(path.stem)
    source = path.read_text(encoding="utf-8")
    for _ in range(6):
        manuscript = Manuscript(path.stem, source)
        Writer(manuscript, draw).change()


def test_every_line_of_a_shipped_lesson_lies_where_the_reader_has_it() -> None:
    for path in SHIPPED:
        manuscript = Manuscript(path.stem, path.read_text(encoding="utf-8"))
        outlined = manuscript.outline.scenes
        scenes = manuscript.lesson.scenes
        assert [each.heading + 1 for each in outlined] == [each.line for each in scenes]
        for part, scene in zip(outlined, scenes, strict=True):
            program = part.first("program")
            assert scene.program_line == (program.open + 2 if program else 0)
            questions = [each.open + 2 for each in part.blocks if each.kind == "question"]
            assert questions == [each.line for each in scene.asked]
            for cue in scene.cues:
                block = manuscript.outline.block_of(cue.line - 1)
                assert block and block.kind == "cues" and cue.line - 1 in block.inside


LOOP = """---
title: Cans
machine: 8-bit
---

# Loop

```program
        LOAD  cans
again:  OUTPUT
        SUBTRACT #1
        JUMP again IF MORE
        HALT
cans:   4
```
"""


def manuscript(source: str = LOOP) -> Manuscript:
    return Manuscript("loop", source)


def test_a_text_that_was_read_is_not_taken_apart_once_more(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A change asks where the blocks stand in the text before it and in the one after it."""
    fresh = outline(manuscript().text.lines)
    now = manuscript(LOOP + "\nA word more.\n")
    assert now.lesson.scenes
    monkeypatch.setattr(prose, "read_blocks", None)
    assert len(now.outline.scenes) == len(fresh.scenes)
    assert now.outline.scenes[0].blocks == fresh.scenes[0].blocks


def test_many_cues_at_a_step_are_tried_with_one_reading(monkeypatch: pytest.MonkeyPatch) -> None:
    """Ten of them took thirteen readings: ten seconds, where runs are long."""
    cues = "\n".join(["step 5: [speed 2]"] * 20)
    program = "```program\nLOAD #1\nHALT\n```"
    now = manuscript(f"---\ntitle: A\n---\n# S\n{program}\n```cues\n{cues}\n```\n")
    assert now.lesson.scenes[0].cue_sheet.speed(5) == 2
    read: list[str] = []
    reading = reader.read_lesson
    monkeypatch.setattr(
        "app.lesson.writing.manuscript.read_lesson",
        lambda *each: read.append(each[1]) or reading(*each),
    )
    after = pace(now, 0, 5, 0, 4.0)
    assert after.lesson.scenes[0].cue_sheet.speed(5) == 4 and len(read) == 1
    read.clear()
    with pytest.raises(Wrong, match="for this moment alone"):
        pointing._done(now, 0, 5, "pause", lambda scene: False, lambda actions: actions)
    assert read == []


def test_the_best_place_comes_first_and_tells_how_often_it_comes() -> None:
    scene = manuscript().lesson.scenes[0]
    at_output = scene.timeline.spans(read("first OUTPUT"))[0].last
    found = to_say(scene, at_output)
    assert found[0].place == "first OUTPUT"
    assert {each.place: each.said for each in found}["OUTPUT"] == "comes 4 times"
    end = scene.timeline.last_step
    assert to_say(scene, end)[0].place == "end"
    jump = scene.timeline.spans(read("second jump taken"))[0].last
    assert to_say(scene, jump)[0].place == "second jump taken"
    for step in range(end + 1):
        for each in to_say(scene, step):
            assert scene.timeline.spans(each.when).meeting(step, step)
            assert len(scene.timeline.spans(each.when)) == each.times


def test_to_who_has_chosen_a_whole_phase_all_of_it_is_proposed() -> None:
    now = manuscript()
    scene = now.lesson.scenes[0]
    run = scene.run
    proposed = []
    step = 0
    while run.reaches(step + 1):
        step = run.after_phase(step)
        phase = phase_at(scene, step)
        assert phase and (phase.first, phase.last) == (run.before_phase(step) + 1, step)
        assert phase_at(scene, step - 1) is None or phase.first == phase.last
        offer = best(to_say(scene, step), phase)
        assert offer and offer.times == 1 and (offer.span == phase or offer.place == "end")
        proposed.append(offer.place)
        after = say(now, 0, step, offer, "All through it.")
        assert board(after, 0, step).view().cue.words == "All through it."  # type: ignore[union-attr]
        if offer.span == phase:
            assert board(after, 0, phase.first).view().cue.words == "All through it."  # type: ignore[union-attr]
    assert proposed[:6] == [
        *("fetch 1", "decode 1", "execute of LOAD"),
        *("fetch 2", "decode 2", "first OUTPUT"),
    ]
    assert phase_at(scene, 0) is None


@pytest.mark.parametrize("path", SHIPPED, ids=lambda each: each.stem)
def test_what_is_proposed_comes_up_at_the_step_and_not_before(path: Path) -> None:
    draw = Random(path.stem)
    bare = re.sub(r"(?ms)^```cues\n.*?^```\n", "", path.read_text(encoding="utf-8"))
    now = Manuscript(path.stem, bare)
    scenes = [n for n, each in enumerate(now.lesson.scenes) if each.program.words]
    for number in scenes[:2]:
        session = board(now, number, 0)
        for _ in range(draw.randint(2, 9)):
            session.step_on()
        step = session.view().step
        offer = best(to_say(now.lesson.scenes[number], step))
        if not step or offer is None:
            continue
        assert offer.begins
        after = say(now, number, step, offer, "Only here.")
        said = board(after, number, 0)
        steps = []
        for _ in range(12):
            view = said.view()
            if view.cue and view.cue.words == "Only here.":
                steps.append(view.step)
            said.step_on()
        assert steps[0] == step


def test_a_cue_can_go_to_another_moment_with_its_brackets() -> None:
    now = manuscript()
    now = say(now, 0, 3, to_say(now.lesson.scenes[0], 3)[0], "Look.", "hide output, speed 2")
    scene = now.lesson.scenes[0]
    line = scene.cues[0].line
    place = best(places_to_move(now, 0, 8, line))
    assert place and place.begins
    after = move(now, 0, 8, line, place.place, "Look here.")
    (cue,) = after.lesson.scenes[0].cues
    assert (cue.words, cue.text, cue.actions) == ("Look here.", place.place, scene.cues[0].actions)
    assert board(after, 0, 8).view().cue == cue
    assert board(after, 0, 3).view().cue is None
    with pytest.raises(Wrong, match="any more"):
        move(now, 0, 8, line, "step 2", "Look here.")


def test_a_word_and_its_value_stay_on_one_line() -> None:
    for blanks in range(60, 100):
        lines = entry_lines("", "start", "x" * blanks, "hide output, speed 2, pause")
        assert any("speed 2" in each for each in lines)
        assert any("hide output" in each for each in lines)
        assert " ".join(map(str.strip, lines)).endswith("[hide output, speed 2, pause]")


def test_what_is_answered_at_the_end_is_asked_so() -> None:
    scene = manuscript().lesson.scenes[0]
    prompts = [each.prompt for each in askings(scene, "start", "end", True)]
    assert "What will the output have shown at the end?" in prompts
    assert not any("after this" in each for each in prompts)


def read(place: str):  # type: ignore[no-untyped-def]
    from app.lesson.places import read_when

    return read_when(place)


def test_a_lesson_made_by_pointing_reads_as_if_written_by_hand() -> None:
    now = manuscript()
    scene = now.lesson.scenes[0]
    first_jump = scene.timeline.spans(read("first jump taken"))[0].last
    now = say(now, 0, first_jump, to_say(scene, first_jump)[0], "Back to the label.")
    now = say(now, 0, 0, to_say(scene, 0)[0], "Four cans, and one OUTPUT.")
    now = point(now, 0, 0, 0, "status")
    now = point(now, 0, first_jump, 0, "status")
    now = pause(now, 0, first_jump)
    place = to_ask(scene, first_jump - 1)[0].place
    now = ask(
        now,
        0,
        first_jump - 1,
        place,
        "which way the jump goes",
        "Which way?",
        because="four is more than nought",
    )
    now = set_inputs(now, 0, "")
    now = set_task(
        now, 0, "Add 1.", "        INPUT\n        ADD #1\n        OUTPUT\n        HALT", "1\n7"
    )
    now = add_scene(now, 0, "And then")
    assert (
        now.source
        == LOOP
        + """
```show
everything but status
```

```cues
start: Four cans, and one OUTPUT.
first jump taken: Back to the label. [show status, pause]
```

```question
before first jump taken: Which way?
ask: which way the jump goes
because: four is more than nought
```

```task
goal: Add 1.
input 1 gives 2
input 7 gives 8
```

```solution
        INPUT
        ADD #1
        OUTPUT
        HALT
```

# And then
"""
    )
    assert not now.lesson.faults


def test_signs_that_no_screen_shows_are_left_out_of_a_name() -> None:
    now = add_scene(manuscript(), 0, "\x01Two\x0b sums\u202e\uffff")
    assert now.lesson.scenes[1].title == "Two sums" and "\n# Two sums\n" in now.source


@pytest.mark.parametrize(
    ("change", "what"),
    [
        (lambda m: say(m, 0, 0, to_say(m.lesson.scenes[0], 0)[0], "  "), "Nothing is said"),
        (lambda m: say(m, 0, 0, to_say(m.lesson.scenes[0], 0)[0], "x [9]"), "cannot"),
        (lambda m: say(m, 0, 0, to_say(m.lesson.scenes[0], 0)[0], "x" * 700), "700 letters"),
        (lambda m: say(m, 9, 0, to_say(m.lesson.scenes[0], 0)[0], "x"), "no such scene"),
        (lambda m: point(m, 0, 0, 0, "../output"), "no such part"),
        (lambda m: change_words(m, 0, 3, "x"), "no such cue"),
        (lambda m: set_inputs(m, 0, "three"), "three"),
        (lambda m: set_task(m, 0, "Go.", "OUTPUT", "1"), "HALT"),
        (lambda m: set_task(m, 0, "Go.", "LOOP", "1"), "Line 1 of the solution"),
        (lambda m: set_task(m, 0, "", "HALT", ""), "no goal"),
        (lambda m: add_program(m, 0), "has a program"),
        (lambda m: add_scene(m, 0, " "), "no name"),
        (lambda m: add_scene(m, 0, "\u200b\u0301"), "no name"),
        (lambda m: add_scene(m, 0, "Sums #"), "something else"),
        (lambda m: ask(m, 0, 0, "fetch 3", "the accumulator", "What?"), "not be asked"),
        (lambda m: ask(m, 0, 0, "fetch 1", "the accumulator", ""), "no words"),
        (
            lambda m: ask(m, 0, 0, "fetch 1", "the accumulator", "?", [("8", ""), ("9", "")]),
            "only one wrong answer",
        ),
        (
            lambda m: ask(
                m, 0, 0, "fetch 1", "the accumulator", "?", [("8", ""), ("9", ""), ("7", "")]
            ),
            "None of the choices",
        ),
    ],
)
def test_what_cannot_be_written_is_told(
    change: Callable[[Manuscript], Manuscript], what: str
) -> None:
    with pytest.raises(Wrong, match=what):
        change(manuscript())


def test_nothing_is_written_into_a_lesson_with_faults() -> None:
    broken = manuscript(LOOP.replace("HALT", "HOLT"))
    with pytest.raises(Wrong, match="Line 13 has a fault"):
        point(broken, 0, 0, 0, "output")


def test_own_answers_with_their_reasons() -> None:
    now = manuscript()
    own = [("4", ""), ("0", "that is where it ends"), ("1", "")]
    after = ask(now, 0, 5, "execute of LOAD", "the accumulator", "What is in it?", own)
    asked = after.lesson.scenes[0].questions[0]
    assert set(asked.choices) == {"4", "0", "1"}
    assert asked.reasons[asked.choices.index("0")] == "That is where it ends."
    assert "choices: 4\n  or 0 because that is where it ends\n  or 1\n" in after.source
    # The form for it is filled in with what was typed.
    found = question_on(after.lesson.scenes[0], asked.line)
    assert found
    typed = as_typed(after, found[0], "4")
    assert (typed["answer-1"], typed["reason-1"]) == ("0", "that is where it ends")
    assert (typed["answer-2"], typed["reason-2"], typed["because"]) == ("1", "", "")
    assert (typed["subject"], typed["place"]) == ("the accumulator", "execute of LOAD")


def test_boxes_that_are_left_empty_are_none() -> None:
    now = manuscript()
    empty = [("4", ""), ("", ""), ("", "")]
    after = ask(now, 0, 5, "execute of LOAD", "the accumulator", "What is in it?", empty)
    assert "choices" not in after.source and len(after.lesson.scenes[0].questions) == 1
    for boxes, what in (
        ([("4", ""), ("", "it was added"), ("1", "")], "Why answer 1 is wrong"),
        ([("4", ""), ("1", ""), ("4", "")], "it is the right answer"),
        ([("4", ""), ("1", ""), ("1", "")], "'1' is there twice"),
    ):
        with pytest.raises(Wrong, match=what):
            ask(now, 0, 5, "execute of LOAD", "the accumulator", "What is in it?", boxes)


def test_an_early_question_is_asked_here_and_answered_at_the_end() -> None:
    now = manuscript()
    after = ask(now, 0, 0, "start", "the output so far", "What in all?", answer_at="end")
    assert "ask at start: What in all?\nanswer at end\nask: the output so far\n" in after.source
    asked = after.lesson.scenes[0].questions[0]
    assert (asked.step, asked.choices[asked.answer]) == (0, "4, 3, 2, 1")
    found = askings(now.lesson.scenes[0], "start", "end", early=True)
    assert "the output so far" in [each.subject for each in found]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_typing_keeps_the_line_ends_of_the_file(end: str) -> None:
    before = LOOP.replace("\n", end)
    now = LOOP.replace("cans:   4", "cans:   5\nmore:   1").replace("# Loop", "# A loop")
    assert typed(before, now) == now.replace("\n", end)
    assert typed(before, LOOP) == before


def test_typing_keeps_both_kinds_of_line_ends() -> None:
    before = "one\r\ntwo\nthree\r\nfour\nfive"
    assert (
        typed(before, "one\ntwo\nnew\nthree\nfour\nfive") == "one\r\ntwo\nnew\nthree\r\nfour\nfive"
    )
    now = "ONE\ntwo\nthree\nfour\nFIVE"
    assert typed(before, now) == "ONE\r\ntwo\nthree\r\nfour\nFIVE"
    assert typed(before, "") == ""


def test_a_text_is_its_lines() -> None:
    draw = Random(1948)
    for _ in range(300):
        source = "".join(draw.choice(("a", "\r", "\n", "\r\n", "", "x y")) for _ in range(9))
        assert str(Text.of(source)) == source


@pytest.mark.parametrize(
    "title", ["Plain title", 'With "quotes": and #', "yes", "12", "- x", "Ä, ö"]
)
def test_a_title_is_read_as_it_was_typed(title: str) -> None:
    assert read_lesson("x", set_title(LOOP, title)).header.title == title
    assert read_lesson("x", first_lesson(title, EIGHT_BIT)).header.title == title
    assert not read_lesson("x", first_lesson(title, EIGHT_BIT)).problems


def test_a_program_for_a_scene_without_one() -> None:
    now = add_program(add_scene(manuscript(), 0, "Sums"), 1)
    assert not now.lesson.faults
    assert now.lesson.scenes[1].run.outputs(1) == (13,)


def test_the_cases_of_a_task_are_counted_before_any_is_tried(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Thousands of lines, all the same, each had their run: the whole server stood for that."""
    ran = 0
    finish = Run.finish

    def counted(self: Run) -> State:
        nonlocal ran
        ran += 1
        return finish(self)

    scene = manuscript().lesson.scenes[0]
    solution = "INPUT\nOUTPUT\nHALT"
    monkeypatch.setattr(Run, "finish", counted)
    assert cases_of(scene, solution, "1\n 1 \n" * 500) == ["input 1 gives 1"] and ran == 1
    with pytest.raises(Wrong, match="There are 100 cases"):
        cases_of(scene, solution, "\n".join(map(str, range(100))))
    assert ran == 1


def test_the_cases_of_a_task_are_found_with_the_requests_of_its_scene() -> None:
    """Without them the solution waits for ever: what it outputs is what a request brings."""
    text = """---
title: Bell
machine: 16-bit
with: interrupts
limit: 50
---

# Ring

```program
      ENABLE s
w:    JUMP w
s:    INPUT
      OUTPUT
      HALT
```

```interrupts
after instruction 3: 7
```
"""
    before = manuscript(text)
    solution = before.lesson.scenes[0].program.source
    now = set_task(before, 0, "Show what comes.", solution, "")
    task = now.lesson.scenes[0].task
    assert task and [each.outputs for each in task.cases] == [(7,)]
    assert "\ngives 7\n" in now.source


def test_which_further_cases_there_may_be_stays_however_it_is_written() -> None:
    task = "goal: Go.\ninput 3 gives 3\nFurther 2 to 40\n  by 2\nfurther 1"
    solution = "INPUT\nOUTPUT\nHALT"
    text = (
        "---\ntitle: T\n---\n\n# One\n\n```program\nHALT\n```\n\n"
        f"```task\n{task}\n```\n\n```solution\n{solution}\n```\n"
    )
    before = manuscript(text)
    now = set_task(before, 0, "Show it.", solution, "3")
    was, made = before.lesson.scenes[0].task, now.lesson.scenes[0].task
    assert was and made and made.shapes == was.shapes == ((range(2, 41, 2),), (range(1, 2),))
    assert now.source == text.replace("Go.", "Show it.")


TWO = (
    "---\ntitle: T\n---\n\n# One\n\n```program\nINPUT\nOUTPUT\nHALT\n```\n\n"
    "```inputs\n'H', 8 ; a letter and a number\n```\n\n# Two\n\nOnce more.\n"
)


def test_inputs_of_the_scene_before_cannot_be_taken_away_here() -> None:
    with pytest.raises(Wrong, match="the inputs of the one before arrive"):
        set_inputs(manuscript(TWO), 1, "")
    others = set_inputs(manuscript(TWO), 1, "5")
    assert [each.inputs for each in others.lesson.scenes] == [(72, 8), (5,)]
    with pytest.raises(Wrong, match="the inputs of the one before arrive"):
        set_inputs(others, 1, "")
    assert set_inputs(manuscript(TWO), 0, "").lesson.scenes[1].inputs == ()


def test_inputs_that_stay_the_same_stay_as_they_are_written() -> None:
    now = set_inputs(manuscript(TWO), 0, "72, 8")
    assert now.source == TWO and TWO.split("\n")[now.line - 1].startswith("'H'")


def test_a_text_is_read_once_for_all_that_is_done_with_it(monkeypatch: pytest.MonkeyPatch) -> None:
    read: list[str] = []

    def counted(slug: str, source: str, folder: object) -> Lesson:
        read.append(source)
        return read_lesson(slug, source, folder)  # type: ignore[arg-type]

    monkeypatch.setattr("app.lesson.writing.manuscript.read_lesson", counted)
    first = manuscript("---\ntitle: Once\n---\n# One\n")
    now = add_scene(first, 0, "Two")
    # Another request begins with the same text.
    again = add_scene(manuscript(now.source), 1, "Three")
    assert [each.title for each in again.lesson.scenes] == ["One", "Two", "Three"]
    # (What had no fault before is asked only where there is one now.)
    assert read == [now.source, again.source]
    other = Manuscript(again.slug, again.source, {"counter moves": "last"})
    assert other.lesson is not again.lesson and len(read) == 3
