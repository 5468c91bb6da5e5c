"""Cues that do something, and the places that later lessons need, step by step.

The places are compared with a plain reading of the steps of the run, written here, which shares
no code with the timeline.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from app.lesson.blocks.cues import CueSheet
from app.lesson.file.reader import read_lesson
from app.lesson.model import Scene
from app.lesson.parts import ALL_PARTS
from app.machine.engine import Step
from app.machine.run import Moment

LOOP = """\
        LOAD  price
again:  ADD   bag
        STORE total
        OUTPUT
        COMPARE #15
        JUMP again IF LESS
        HALT
price:  9
bag:    4
total:  13
"""
FIRST_CUE = 19


def lesson(cues: str, program: str = LOOP, show: str = "", head: str = ""):
    blocks = {"program": program.rstrip("\n"), "cues": cues} | ({"show": show} if show else {})
    fenced = "".join(f"```{kind}\n{text}\n```\n" for kind, text in blocks.items())
    return read_lesson("cues", f"---\ntitle: Cues\n{head}---\n\n# A scene\n{fenced}")


def scene(cues: str, program: str = LOOP, show: str = "") -> Scene:
    found = lesson(cues, program, show)
    assert found.problems == ()
    return found.scenes[0]


def shown(when: str, program: str = LOOP) -> list[int]:
    of = scene(f"{when}: words", program)
    return [step for step in range(of.run.last_step + 1) if of.cue_sheet.at(step)]


def by_hand(holds: Callable[[Moment, Step], bool]) -> list[int]:
    """The steps of LOOP's run for which something holds, each looked at by itself."""
    run = scene("start: words").run
    found = []
    for number in range(1, run.last_step + 1):
        moment = run.moment(number)
        assert moment.step
        if holds(moment, moment.step):
            found.append(number)
    return found


def wrote_another(moment: Moment, step: Step) -> bool:
    return moment.before.memory[9] != moment.after.memory[9]


def jumped(moment: Moment, step: Step) -> bool:
    instruction = step.kind.instruction
    return (
        bool(instruction and instruction.jumps)
        and step.kind.phase == "execute"
        and (moment.after.pc == 1)
    )


def stayed(moment: Moment, step: Step) -> bool:
    instruction = step.kind.instruction
    return (
        bool(instruction and instruction.jumps)
        and step.kind.phase == "execute"
        and (moment.after.pc == 6)
    )


def test_places_against_a_plain_reading_of_the_steps() -> None:
    changes = by_hand(wrote_another)
    assert len(changes) == 1  # the first STORE puts 13 where 13 was
    assert shown("when total changes") == changes
    assert shown("when the accumulator changes") == by_hand(
        lambda m, s: m.before.acc != m.after.acc
    )
    assert shown("when status changes") == by_hand(lambda m, s: m.before.status != m.after.status)
    assert shown("each jump taken") == shown("jump taken") == by_hand(jumped)
    assert shown("first jump not taken") == by_hand(stayed)[:1]
    assert shown("last change of ACC") == shown("last change of the accumulator")
    assert shown("last change of ACC") == by_hand(lambda m, s: m.before.acc != m.after.acc)[-1:]
    assert shown("second OUTPUT") == shown("2nd OUTPUT") == shown("last OUTPUT")
    third = by_hand(lambda m, s: s.cycle == 3)
    assert shown("instruction 3") == third


def test_a_label_comes_before_a_register_of_the_same_name() -> None:
    program = "LOAD #3\nSTORE acc\nHALT\nacc: 0"
    # cycle 1: 4 + 1 + 1 steps; cycle 2: 4 + 1 and then MAR, MDR, memory.
    found = lesson("when acc changes: words", program)
    (warning,) = found.problems
    assert warning.warning and "has the name of a register" in warning.what
    sheet = found.scenes[0].cue_sheet
    assert [each for each in range(found.scenes[0].run.last_step + 1) if sheet.at(each)] == [14]


def test_the_nth_that_does_not_come() -> None:
    found = lesson("third OUTPUT: never")
    (warning,) = found.problems
    assert warning.warning and "never comes to 'third OUTPUT'" in warning.what


# Actions.

STAGED = """\
start: Only memory.
fetch 1: [show PC, the address bus and data bus]
first OUTPUT: The ticket is printed. [show output, pause]
second fetch of ADD: [hide PC, speed 2]
each jump taken: [speed 0.5]
step 4: Counting on.
    And on. [pause]
end: [show everything]
"""


@pytest.fixture
def sheet() -> CueSheet:
    return scene(STAGED, show="main memory").cue_sheet


def plain_stage(step: int) -> tuple[set[str], float | None]:
    """The stage at a step: the actions carried out one after the other from the start."""
    run = scene("start: x").run
    events = [
        (1, {"PC", "address bus", "data bus"}, set(), None),
        (by_hand(lambda m, s: s.kind.transfer.target == "output")[0], {"output"}, set(), None),
        (by_hand(jumped)[0], set(), set(), 0.5),
        (by_hand(jumped)[0] + 1, set(), {"PC"}, 2.0),
        (run.last_step, set(ALL_PARTS), set(), None),
    ]
    parts, speed = {"memory"}, None
    for at, show, hide, new_speed in events:
        if at <= step:
            parts = (parts | show) - hide
            speed = new_speed or speed
    return parts, speed


def test_the_stage_is_a_function_of_the_step(sheet: CueSheet) -> None:
    last = scene(STAGED, show="main memory").run.last_step
    forwards = [(sheet.parts(step), sheet.speed(step)) for step in range(last + 1)]
    backwards = [(sheet.parts(step), sheet.speed(step)) for step in range(last, -1, -1)]
    assert forwards == backwards[::-1]
    assert forwards == [plain_stage(step) for step in range(last + 1)]


def test_pauses(sheet: CueSheet) -> None:
    output = by_hand(lambda m, s: s.kind.transfer.target == "output")[0]
    last = scene(STAGED, show="main memory").run.last_step
    assert [step for step in range(last + 1) if sheet.pauses(step)] == [4, output]
    # A press that goes over several steps pauses for a place on its way.
    assert sheet.pauses(5, since=3) and sheet.pauses(4, since=0)
    assert not sheet.pauses(5, since=4)


def test_words_of_a_place_that_one_press_goes_over(sheet: CueSheet) -> None:
    assert sheet.at(5) is None
    assert sheet.at(5, since=3).words == "Counting on. And on."
    assert sheet.at(4, since=4).words == "Counting on. And on."


def test_a_line_of_only_actions_says_nothing(sheet: CueSheet) -> None:
    assert sheet.at(1) is None
    assert sheet.after(0)[1].words == "Counting on. And on."


def test_of_two_at_one_step_the_later_written_counts() -> None:
    parts = scene("fetch 1: [hide PC]\nstep 1: [show PC]").cue_sheet.parts
    assert "PC" in parts(1)
    parts = scene("step 1: [show PC]\nfetch 1: [hide PC]").cue_sheet.parts
    assert "PC" not in parts(1)


def test_without_show_everything_is_on_stage() -> None:
    assert scene("start: x").parts == ALL_PARTS
    assert scene("start: x", show="nothing").parts == frozenset()


def test_square_brackets_within_words_are_words() -> None:
    (cue,) = scene("start: A [small] machine.").cues
    assert cue.words == "A [small] machine."
    assert not cue.actions


@pytest.mark.parametrize(
    ("line", "column", "length", "what", "mend"),
    [
        ("start: x [show outptu]", 16, 6, "No part is called 'outptu'", "'output'?"),
        ("start: x [open output]", 11, 11, "cannot 'open output'", "[show output]"),
        ("start: x [shwo output]", 11, 11, "cannot 'shwo output'", "'show'?"),
        ("start: x [show output, pasue]", 24, 5, "No part", "'pause'?"),
        ("start: x [pause now]", 17, 3, "'now'", "[pause]"),
        ("start: x [speed 3]", 17, 1, "no speed '3'", "0.25, 0.5, 1, 2, 4 or 8"),
        ("start: x [speed]", 11, 5, "no speed ''", "0.25"),
        ("start: x [show]", 11, 4, "what to show", "show output"),
        ("start: x []", 10, 2, "Nothing is in the brackets", "[pause]"),
        ("start: x [show PC, hide PC]", 11, 16, "both shows and hides PC", "Leave one"),
        ("start: x [in the book]", 11, 11, "cannot 'in the book'", "round brackets"),
        ("when total chagnes: x", 1, 18, "not a place", "'when total changes'?"),
        ("frist jump taken: x", 1, 16, "not a place", "'first jump taken'?"),
    ],
)
def test_faults(line: str, column: int, length: int, what: str, mend: str) -> None:
    (problem,) = lesson(line).faults
    assert (problem.line, problem.column, problem.length) == (FIRST_CUE, column, length)
    assert what in problem.what
    assert mend in problem.mend


def test_an_unknown_label_is_a_warning_with_a_suggestion() -> None:
    found = lesson("when totl changes: x\nwhen xyzzy changes: x")
    assert found.faults == ()
    near, far = found.problems
    assert (near.line, near.column, near.length) == (FIRST_CUE, 1, 17)
    assert "no label 'totl'" in near.what and "never shown" in near.what
    assert "'total'" in near.mend
    assert "again, price, bag, total" in far.mend


def test_more_cues_than_a_scene_may_have() -> None:
    (fault,) = lesson("\n".join(["start: x"] * 201)).faults
    assert (fault.line, "more than 200" in fault.what) == (FIRST_CUE + 200, True)


def test_many_faults_are_not_all_told() -> None:
    faults = lesson("\n".join(["strat: x"] * 100)).faults
    assert len(faults) == 21
    assert "not read" in faults[-1].what


# Long runs.

ENDLESS = "again: ADD #1\nJUMP again"


def test_a_run_that_does_not_end_is_followed_so_far_only() -> None:
    found = lesson(
        "end: x\nlast ADD: x\nfirst ADD: x\nfetch 60000: x", ENDLESS, head="limit: 1000000\n"
    )
    assert found.faults == ()
    told = [each.what for each in found.problems]
    assert sum("100,000 steps" in each for each in told) == 4
    sheet = found.scenes[0].cue_sheet
    assert [each.text for each in sheet.unused] == ["end", "last ADD", "fetch 60000"]
    assert sheet.at(6).text == "first ADD"
    assert found.scenes[0].run.known_steps < 210_000


def test_a_lesson_of_endless_scenes_is_checked_so_far_only() -> None:
    scenes = "".join(f"# Scene {at}\n```program\n{ENDLESS}\n```\n" for at in range(10))
    found = read_lesson("long", f"---\ntitle: Long\nlimit: 1000000\n---\n{scenes}")
    assert found.faults == ()
    assert "were not run" in found.problems[-1].what
    assert [scene.run.known_steps > 0 for scene in found.scenes] == [True] * 2 + [False] * 8


# A cue at LOOP's first line of cues; where the warning stands, and what is in it.
STRAY = {
    "not closed": ("start: Look. [show output", 14, 12, "not closed"),
    "with words after it": ("start: [show output] 9.", 8, 13, "not stand at the end"),
    "with a full stop after it": ("start: Look. [Pause].", 14, 7, "not stand at the end"),
    "in two": ("start: Look. [hide output] [pause]", 14, 13, "not stand at the end"),
    "not opened": ("start: Look. show output]", 14, 12, "no '['"),
}


@pytest.mark.parametrize(("cue", "column", "length", "what"), STRAY.values(), ids=STRAY)
def test_brackets_that_are_only_words(cue: str, column: int, length: int, what: str) -> None:
    found = lesson(cue)
    (warning,) = found.problems
    assert warning.warning
    assert (warning.line, warning.column, warning.length) == (FIRST_CUE, column, length)
    assert what in warning.what
    assert found.scenes[0].cues[0].words


def test_the_old_word_for_show_still_works_with_a_warning() -> None:
    found = lesson("start: Look. [pause, Reveal output and the PC]\nend: [reveal MAR]")
    assert found.faults == ()
    assert [(each.line, each.column, each.length) for each in found.problems] == [
        (FIRST_CUE, 22, 6),
        (FIRST_CUE + 1, 7, 6),
    ]
    for each in found.problems:
        assert each.warning and "now called 'show'" in each.what and "Write 'show'" in each.mend
    cues = lesson("start: Look. [pause, show output and the PC]\nend: [show MAR]").scenes[0].cues
    assert [each.actions for each in found.scenes[0].cues] == [each.actions for each in cues]
    assert cues[0].actions.show == {"output", "PC"}


def test_the_new_word_needs_no_warning() -> None:
    assert lesson("start: Look. [show output, hide PC]").problems == ()


@pytest.mark.parametrize("words", ["What is in [9] now?", "A list [1, 2", "It slows (speed 2)."])
def test_brackets_that_are_words(words: str) -> None:
    assert lesson(f"start: {words}").problems == ()


@pytest.mark.parametrize(
    ("words", "meant"),
    [
        ("(pause)", "[pause]"),
        ("{show output, pause}", "[show output, pause]"),
        ("［hide MAR and MDR］", "[hide MAR and MDR]"),
    ],
)
def test_actions_in_brackets_of_another_kind_are_told(words: str, meant: str) -> None:
    found = lesson(f"start: It goes on. {words}")
    (warning,) = found.problems
    assert warning.warning and warning.column == len("start: It goes on. ") + 1
    assert f"'{words}' does not stand in square brackets" in warning.what
    assert warning.mend == f"Write '{meant}'."
    assert lesson(f"start: It goes on. {meant}").problems == ()


@pytest.mark.parametrize("words", ["(show it to them)", "(pause here)", "(a pause)", "(base 2)"])
def test_other_words_in_brackets_are_words(words: str) -> None:
    assert lesson(f"start: It goes on. {words}").problems == ()


@pytest.mark.parametrize("action", ["show nothing", "hide nothing"])
def test_a_cue_that_would_do_nothing_is_told(action: str) -> None:
    (fault,) = lesson(f"start: It goes on. [{action}]").faults
    assert fault.what == f"A cue cannot {action[:4]} 'nothing'."
