"""Worksheets, their versions and the quiz. Answers are held to an interpreter that shares no code
with ``app`` (``model.py``)."""

from __future__ import annotations

import pytest

from app.lesson.file.reader import read_lesson
from app.lesson.header import Depth
from app.lesson.minutes import Minutes
from app.lesson.minutes import scene_minutes as minutes_of
from app.lesson.model import Lesson, Scene
from app.lesson.paper import versions
from app.lesson.paper.plan import cue_places
from app.lesson.paper.quiz import MOST_OUTPUTS, make_quiz
from app.lesson.paper.trace import Rows, chosen_columns
from app.lesson.paper.versions import MOST_VERSIONS, Version, make_versions
from app.lesson.paper.worksheet import MOST_ROWS, Support, make_worksheet
from app.machine.run import Run
from app.machine.state import Ending
from tests.lesson.model import model_of
from tests.lesson.paper.test_trace import BELOW_NOUGHT, COUNTING, LARGER, TIMES

QUESTIONS = """
```question
before first SUBTRACT: What will the accumulator hold?
ask: the accumulator
```

```question
before last JUMP: Where does the program go on?
ask: which way the jump goes
```
"""


def lesson_of(*sources: str, inputs: str = "", more: str = "", minutes: str = "") -> Lesson:
    scenes = "".join(
        f"# Scene\n\n```program\n{source}\n```\n\n"
        + (f"```inputs\n{inputs}\n```\n\n" if inputs else "")
        + more
        for source in sources
    )
    head = f"---\ntitle: Test\nmachine: 8-bit\n{minutes}---\n\n"
    lesson = read_lesson("test", head + scenes)
    assert not lesson.faults, lesson.faults
    return lesson


def scene_of(source: str, inputs: str = "", more: str = "") -> Scene:
    return lesson_of(source, inputs=inputs, more=more).scenes[0]


SCENES = {
    "counting": scene_of(COUNTING),
    "larger": scene_of(LARGER, "3 8"),
    "times": scene_of(TIMES),
    "below nought": scene_of(BELOW_NOUGHT),
}


# How much is given.


@pytest.mark.parametrize("scene", SCENES.values(), ids=SCENES)
def test_each_level_leaves_more_to_do_than_the_one_before(scene):
    sheets = [make_worksheet(Version("A", scene), each) for each in Support]
    some, more, most = (
        sum(sum(row.blank) + row.blank_instruction for row in each.rows) for each in sheets
    )
    assert some < more < most
    for easier, harder in ((sheets[0], sheets[1]), (sheets[1], sheets[2])):
        for one, other in zip(easier.rows, harder.rows, strict=True):
            pairs = zip(one.blank, other.blank, strict=True)
            assert all(later or not earlier for earlier, later in pairs)
            assert other.blank_instruction or not one.blank_instruction


@pytest.mark.parametrize("support", Support)
def test_the_first_row_is_done(support):
    first = make_worksheet(Version("A", SCENES["times"]), support).rows[0]
    assert not any(first.blank) and not first.blank_instruction


def test_the_first_level_leaves_blank_what_the_instruction_writes():
    sheet = make_worksheet(Version("A", SCENES["counting"]), Support.MORE)
    names = [each.title for each in sheet.trace.columns]
    for row in sheet.rows[1:]:
        blank = {name for name, is_blank in zip(names, row.blank, strict=True) if is_blank}
        writes = {
            "OUTPUT": {"PC", "output"},
            "SUBTRACT": {"PC", "ACC", "status"},
            "STORE": {"PC", "cans"},
            "COMPARE": {"PC", "status"},
            "JUMP": {"PC"},
            "HALT": {"PC"},
        }
        assert blank == writes[row.row.instruction.split()[0]]


@pytest.mark.parametrize("scene", SCENES.values(), ids=SCENES)
@pytest.mark.parametrize("rows_are", Rows)
def test_no_row_tells_what_is_to_be_written_further_up(scene, rows_are):
    sheet = make_worksheet(Version("A", scene), Support.MORE, rows_are=rows_are)
    for at, column in enumerate(sheet.trace.columns):
        if column.key in ("input", "output"):
            assert not any(row.same[at] for row in sheet.rows)
            continue
        # Once there is a box to fill in, nothing more of the column is given away.
        boxes = [row.blank[at] for row in sheet.rows]
        first = boxes.index(True) if True in boxes else len(boxes)
        for row in sheet.rows[:first]:
            assert not row.same[at]
        for row in sheet.rows[first:]:
            assert row.same[at] != row.blank[at]


@pytest.mark.parametrize("support", [Support.SOME, Support.LESS])
def test_where_every_value_is_left_blank_none_is_the_same(support):
    for row in make_worksheet(Version("A", SCENES["times"]), support).rows:
        assert not any(row.same)


def test_a_long_run_fills_two_pages_and_says_so():
    sheet = make_worksheet(Version("A", scene_of("again: ADD #1\nJUMP again")), Support.SOME)
    assert len(sheet.rows) == MOST_ROWS
    assert not sheet.trace.complete


def test_chosen_columns_and_transfers():
    scene = SCENES["counting"]
    columns = chosen_columns(scene.run, scene.program, ["ACC", "memory", "MAR"])
    sheet = make_worksheet(Version("A", scene), Support.SOME, columns, Rows.TRANSFERS)
    assert [each.title for each in sheet.trace.columns] == ["MAR", "ACC", "cans"]
    assert sheet.rows[0].row.transfer == "MAR <- PC"


def test_the_program_is_listed_as_it_was_written():
    source = "        LOAD a ; take it\n        OUTPUT\n        HALT\na: other: 3 ; the number\n"
    (first, *_, last) = make_worksheet(Version("A", scene_of(source)), Support.SOME).listing
    assert (first.address, first.label, first.text, first.comment) == ("0", "", "LOAD a", "take it")
    assert (last.address, last.label, last.text, last.comment) == (
        "3",
        "a, other",
        "3",
        "the number",
    )


# Versions.


def numbers(version: Version) -> tuple[tuple[int, ...], tuple[int, ...]]:
    return version.scene.program.words, version.scene.inputs


@pytest.mark.parametrize("scene", SCENES.values(), ids=SCENES)
def test_versions_differ_and_are_like_the_lesson(scene):
    versions = make_versions(scene, 4, "seed")
    assert [each.letter for each in versions] == list("ABCD")[: len(versions)]
    assert len(versions) >= 2
    assert versions[0].scene is scene
    assert len({numbers(each) for each in versions}) == len(versions)
    model = scene.run.finish()
    for each in versions[1:]:
        end = each.scene.run.finish()
        assert end.ending is Ending.HALTED
        assert abs(end.cycles - model.cycles) <= model.cycles / 2 + 2
        assert not each.changed or each.numbers


@pytest.mark.parametrize("scene", SCENES.values(), ids=SCENES)
def test_the_answers_of_each_version_are_right(scene):
    versions = make_versions(scene, 4, "answers")
    assert len(versions) == (2 if scene is SCENES["counting"] else 4)
    for version in versions:
        sheet = make_worksheet(version, Support.LESS)
        source = "\n".join(
            f"{each.label + ':' if each.label else ''} {each.text}" for each in sheet.listing
        ).replace("\N{MINUS SIGN}", "-")
        expected = model_of(source, [int(each) for each in sheet.inputs]).run(MOST_ROWS)
        assert len(sheet.rows) == len(expected)
        at = {each.key: place for place, each in enumerate(sheet.trace.columns)}
        for row, truth in zip(sheet.rows, expected, strict=True):
            values = [each.replace("\N{MINUS SIGN}", "-") for each in row.row.values]
            assert values[at["PC"]] == str(truth.pc)
            assert values[at["ACC"]] == str(truth.acc)
            if "output" in at:
                assert values[at["output"]] == truth.output


def test_the_same_seed_gives_the_same_versions_and_another_gives_others():
    scene = SCENES["larger"]
    once, again, other = (make_versions(scene, 4, seed) for seed in ("x", "x", "y"))
    assert [numbers(each) for each in once] == [numbers(each) for each in again]
    assert [numbers(each) for each in once] != [numbers(each) for each in other]


def test_no_more_is_tried_than_there_is_time_for(monkeypatch):
    """Sixty scenes of which none has a version took a minute."""
    ran = []
    of = versions._Facts.of

    def counted(scene, longest):
        facts = of(scene, longest)
        ran.append(facts.cycles if facts else longest)
        return facts

    monkeypatch.setattr(versions._Facts, "of", counted)
    scene = SCENES["larger"]
    assert len(make_versions(scene, 4, "x")) == 4
    most = sum(ran[1:]) // 2
    ran.clear()
    fewer = make_versions(scene, 4, "x", most)
    assert 1 <= len(fewer) < 4 and sum(ran[1:-1]) < most


def test_what_counts_or_ends_a_list_stays():
    """A list of inputs that ends in 0, and a word that is used as a step of one."""
    loop = "again: INPUT\nCOMPARE #0\nJUMP end IF EQUAL\nADD one\nOUTPUT\nJUMP again\n"
    source = f"{loop}end: HALT\none: 1"
    versions = make_versions(scene_of(source, "5 3 0"), 5, "x")
    assert len(versions) == 5
    for each in versions:
        assert each.scene.inputs[-1] == 0 and 0 not in each.scene.inputs[:-1]
        assert each.scene.program.words[7] == 1


BORDER = """
        LOAD  tide
        COMPARE mark
        JUMP  warn IF MORE
        LOAD  #0
        OUTPUT
        HALT
warn:   LOAD  #1
        OUTPUT
        HALT
tide:   {tide}
mark:   48
"""


@pytest.mark.parametrize(("tide", "outcome"), [(48, "0"), (52, "1"), (31, "0")])
def test_comparisons_and_jumps_of_every_version_go_as_in_the_lesson(tide, outcome):
    versions = make_versions(scene_of(BORDER.format(tide=tide)), 6, "x")
    assert len(versions) == 6
    for each in versions:
        words = each.scene.program.words
        assert (words[9] > words[10], words[9] < words[10]) == (tide > 48, tide < 48)
        sheet = make_worksheet(each, Support.SOME)
        assert [row.row.instruction for row in sheet.rows] == [
            row.row.instruction for row in make_worksheet(versions[0], Support.SOME).rows
        ]


def test_in_a_loop_with_other_rounds_the_ways_come_in_the_same_order():
    versions = make_versions(SCENES["counting"], 6, "x")
    assert len(versions) == 2
    rounds = set()
    for each in versions:
        rows = make_worksheet(each, Support.SOME).rows
        found = [row.row.values[2] for row in rows if row.row.instruction.startswith("COMPARE")]
        assert [*dict.fromkeys(found)] == ["MORE", "EQUAL"]
        rounds.add(len(found))
    assert len(rounds) == 2


def test_no_number_is_varied_beyond_what_a_word_can_hold():
    versions = make_versions(scene_of("LOAD a\nADD #10\nHALT\na: 120"), 6, "x")
    assert len(versions) == 6
    for each in versions:
        assert 0 < each.scene.program.words[3] < 128


@pytest.mark.parametrize("title", ["Six chairs", "At 48 exactly", "A dozen rolls", "Sixteen cans"])
def test_a_title_that_names_a_number_is_that_of_the_lesson_alone(title):
    text = lesson_of(LARGER, inputs="3 8").source.replace("# Scene", f"# {title}")
    first, second = make_versions(read_lesson("x", text).scenes[0], 2, "x")
    assert first.title(4) == title
    assert second.title(4) == "Scene 4"
    plain = make_versions(scene_of(LARGER, "3 8"), 2, "x")[1]
    assert plain.title(4) == "Scene"


def test_where_there_are_no_data_the_numbers_of_instructions_vary():
    versions = make_versions(scene_of("LOAD #5\nADD #3\nOUTPUT\nHALT"), 3, "x")
    assert len(versions) == 3
    assert all(label.startswith("[") for each in versions for label, _ in each.numbers)
    changed = make_worksheet(versions[1], Support.SOME).listing
    assert [each.text.split()[0] for each in changed] == ["LOAD", "ADD", "OUTPUT", "HALT"]


def test_no_version_overflows():
    versions = make_versions(scene_of("LOAD a\nADD b\nOUTPUT\nHALT\na: 90\nb: 35"), 6, "x")
    assert len(versions) == 6
    for each in versions:
        assert each.scene.run.outputs(1) < (128,)
        assert not each.scene.run.finish().overflow


def test_a_scene_with_nothing_to_vary_has_one_version():
    assert len(make_versions(scene_of("LOAD #1\nHALT"), 6, "x")) == 1
    # And one too long for paper is not varied.
    assert len(make_versions(scene_of("a: ADD n\nJUMP a\nn: 2"), 6, "x")) == 1


def test_numbers_that_change_nothing_are_not_tried_for_long(monkeypatch):
    """A thousand inputs of which none is read: each try draws a thousand numbers."""
    drawn = []
    vary = versions._vary
    monkeypatch.setattr(versions, "_vary", lambda *each: drawn.append(1) or vary(*each))
    assert len(make_versions(scene_of("HALT", ", ".join(["77"] * 1000)), 6, "x", 1000)) == 1
    assert 1000 <= len(drawn) < 10_000


def test_there_are_no_more_versions_than_letters():
    assert len(make_versions(SCENES["larger"], 99, "x")) == MOST_VERSIONS


def test_the_comment_of_a_changed_number_is_left_out():
    scene = scene_of("LOAD a ; take\nOUTPUT\nHALT\na: 7 ; seven")
    version = make_versions(scene, 2, "x")[1]
    comments = [each.comment for each in make_worksheet(version, Support.SOME).listing]
    assert comments == ["take", "", "", ""]


# The quiz.


def test_the_quiz_asks_what_the_run_answers():
    items = make_quiz(scene_of(COUNTING, more=QUESTIONS), Depth.TRANSFERS)
    assert [each.number for each in items] == [1, 2]
    first, second = items
    assert first.answer.text == "1"
    assert first.where == "In instruction 3, SUBTRACT #1: it has been decoded"
    state = {key: value for key, _, value in first.state}
    assert state["ACC"] == state["output"] == "2"
    assert "6" in second.answer.text
    for item in items:
        assert [each.letter for each in item.choices] == list("ABCD")[: len(item.choices)]
        assert sum(each.right for each in item.choices) == 1
        assert all(bool(each.reason) != each.right for each in item.choices)


TOLD = """
```question
before second SUBTRACT: What will the accumulator hold?
ask: the accumulator
```

```question
before second STORE: What will be stored?
ask: what is stored in cans
```

```question
before second fetch of JUMP: Which instruction comes?
ask: the current instruction register
```

```question
before second JUMP: Which way does it go?
ask: which way the jump goes
```

```question
before fetch 11: What has been shown by now?
ask: the output so far
```
"""


def test_no_table_of_the_quiz_tells_the_answer_to_an_earlier_question():
    scene = scene_of(COUNTING, more=QUESTIONS + TOLD)
    for depth in Depth:
        earlier: list[tuple[int, str]] = []
        for item in make_quiz(scene, depth, first=4):
            for (key, _, value), instead in zip(item.state, item.instead, strict=True):
                told = [number for number, text in earlier if text == value and key != "MAR"]
                assert not told or instead, (item.number, key, value, told)
            earlier.append((item.number, item.answer.text))


def test_where_the_value_is_another_one_by_then_the_table_has_it():
    (first, second) = make_quiz(scene_of(COUNTING, more=QUESTIONS), Depth.TRANSFERS)
    assert not any(first.instead)
    state = dict(zip([key for key, _, _ in second.state], second.instead, strict=True))
    assert state["PC"] == "" and state["MAR"] == ""


def test_an_instruction_that_was_asked_for_is_not_named_after():
    scene = scene_of(
        "LOAD #7\nSTORE 9\nHALT",
        more="```question\nbefore fetch 2: What?\nask: the current instruction register\n```\n"
        "```question\nbefore execute of STORE: What?\nask: what is stored in 9\n```\n",
    )
    _, second = make_quiz(scene, Depth.TRANSFERS)
    assert second.where == "In instruction 2: it has been decoded"
    printed = {key: told for (key, _, _), told in zip(second.state, second.instead, strict=True)}
    assert printed["CIR"] == printed["MDR"] == "answer 1"
    assert printed["ACC"] == ""


def test_outputs_that_were_asked_for_stand_for_themselves():
    scene = scene_of(
        "LOAD #7\nADD #1\nOUTPUT\nADD #1\nOUTPUT\nSUBTRACT #1\nHALT",
        more="```question\nbefore first ADD: How many?\nask: the accumulator\n```\n"
        "```question\nbefore second ADD: How many?\nask: the accumulator\n```\n"
        "```question\nbefore SUBTRACT: How many?\nask: the accumulator\n```\n",
    )
    items = make_quiz(scene, Depth.TRANSFERS)
    assert [each.instead[-1] for each in items] == ["", "answer 1", "answer 1, answer 2"]


def test_of_many_outputs_the_last_are_printed_and_no_others_looked_at(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # The first OUTPUT is instruction 2, and every third one after it.
    asked = "".join(
        f"```question\nbefore instruction {number}: What?\nask: {ask}\n```\n"
        for number, ask in (
            (75, "the accumulator"),
            (78, "the accumulator"),
            (80, "the output so far"),
            (84, "the accumulator"),
            (180, "the accumulator"),
            (360, "the accumulator"),
        )
    )
    scene = scene_of("LOAD #0\nagain: OUTPUT\nADD #1\nJUMP again", more=asked)
    assert len(scene.questions) == 6
    looked_at = 0
    plain = Run.outputs

    def counted(run: Run, *given: int) -> tuple[int, ...]:
        nonlocal looked_at
        found = plain(run, *given)
        looked_at += len(found)
        return found

    monkeypatch.setattr(Run, "outputs", counted)
    items = make_quiz(scene, Depth.TRANSFERS)
    assert looked_at <= len(items) * MOST_OUTPUTS
    printed = {each.number: {key: text for key, _, text in each.state} for each in items}
    instead = [each.instead[-1] for each in items]

    def last(start: int, end: int) -> list[str]:
        return [str(each) for each in range(max(start, end - MOST_OUTPUTS), end)]

    # By the 78th instruction 0 to 25 have been sent, and the 25 is what was asked for first.
    assert printed[2]["output"] == ", ".join(["\N{HORIZONTAL ELLIPSIS} (6 before)", *last(0, 26)])
    assert instead[1] == printed[2]["output"].replace(", 25", ", answer 1")
    assert instead[3] == "answer 3, 27"
    # None of these has been asked for.
    for number, sent in ((5, 60), (6, 120)):
        before = f"\N{HORIZONTAL ELLIPSIS} ({sent - MOST_OUTPUTS} before)"
        assert printed[number]["output"] == ", ".join([before, *last(0, sent)])
        assert instead[number - 1] == ""


def test_a_wrong_choice_that_nobody_explains_gets_what_happened():
    ask = "ask: the accumulator\nchoices: 1 or 77 or 88\n```\n"
    for place, happened in (
        (
            "first SUBTRACT",
            "The ALU takes 1 away from 2; the result, 1, goes to the accumulator, and the status"
            " becomes MORE.",
        ),
        ("first STORE", "STORE cans does not change it, so the accumulator still holds 1."),
    ):
        question = f"```question\nbefore {place}: How many?\n{ask}"
        (item,) = make_quiz(scene_of(COUNTING, more=question), Depth.TRANSFERS)
        reasons = {each.text: each.reason for each in item.choices}
        assert reasons["1"] == ""
        assert reasons["77"] == happened == item.because


def test_a_class_that_looks_at_phases_sees_fewer_registers():
    items = make_quiz(scene_of(COUNTING, more=QUESTIONS), Depth.PHASES)
    assert [key for key, _, _ in items[0].state] == ["PC", "ACC", "status", "output"]


# The plan.


def scene_minutes(lesson: Lesson) -> tuple[Minutes | None, ...]:
    return minutes_of(lesson.header.minutes, lesson.scenes)


def test_the_minutes_of_the_scenes_make_up_those_of_the_lesson():
    lesson = lesson_of(COUNTING, LARGER, TIMES, inputs="1 2", minutes="minutes: 50\n")
    assert sum(each.count for each in scene_minutes(lesson)) == 50
    assert not any(each.said for each in scene_minutes(lesson))
    assert scene_minutes(lesson_of(COUNTING)) == (None,)


def test_minutes_that_the_notes_say_stay():
    head = "---\ntitle: Test\nminutes: 40\n---\n"
    scenes = "# One\n\n**12 minutes.** Ask first.\n\n# Two\n\n12 minutes are not said.\n\n# Three\n"
    lesson = read_lesson("x", head + scenes)
    assert [each.words for each in scene_minutes(lesson)] == [
        "12 min",
        "about 14 min",
        "about 14 min",
    ]
    untold = read_lesson("x", head.replace("minutes: 40\n", "") + scenes)
    assert [each and each.words for each in scene_minutes(untold)] == ["12 min", None, None]


def test_a_scene_with_questions_gets_more_time():
    text = lesson_of(COUNTING, minutes="minutes: 30\n").source
    lesson = read_lesson("x", f"{text}\n# Asked\n\n```program\n{COUNTING}\n```\n{QUESTIONS}")
    first, second = scene_minutes(lesson)
    assert first.count + second.count == 30
    assert second.count > first.count


def test_every_cue_at_the_start_has_its_picture():
    cues = "```cues\nstart: One.\nstart: Two.\nend: Over.\n```\n"
    places = cue_places(scene_of(COUNTING, more=cues))
    assert [(each.cue.words, each.said) for each in places] == [
        ("One.", 0),
        ("Two.", 1),
        ("Over.", 0),
    ]


def test_a_cue_is_pictured_where_its_words_are_on_the_board():
    cues = (
        "```cues\nstart: Off.\nexecute of SUBTRACT: One less.\nlast JUMP: Done.\nend: Over.\n```\n"
    )
    scene = scene_of(COUNTING, more=cues)
    places = cue_places(scene)
    assert [each.cue.words for each in places] == ["Off.", "One less.", "Done.", "Over."]
    assert [each.times for each in places] == [1, 2, 1, 1]
    for each in places:
        assert scene.cue_sheet.at(each.step) is each.cue
    # Once its words are there, what they speak of has happened.
    assert scene.run.moment(places[1].step).after.acc == 1
