"""What is allowed but surely not meant: where it stands, what, and how to mend it."""

from __future__ import annotations

import pytest

from app.lesson.file.reader import read_lesson
from app.lesson.file.scenes import MOST_PROBLEMS
from app.lesson.file.taught import Taught
from app.lesson.model import Lesson
from tests.codes import word


def lesson(body: str, head: str = "") -> Lesson:
    found = read_lesson("w", f"---\ntitle: W\n{head}---\n{body}")
    assert found.faults == ()
    return found


def scene(program: str, extra: str = "") -> str:
    return f"# One\n```program\n{program}\n```\n{extra}"


# The program's first line is line 6 of the file.
@pytest.mark.parametrize(
    ("program", "place", "what", "mend"),
    [
        ("LOAD #1\n" * 15 + "ADD #1", (21, 1, 6), "past the end of memory", "HALT"),
        ("  JUMP x ; on\nx: INPUT", (7, 1, 8), "waits: it has read none", "'inputs' block"),
        ("again: ADD #1\nJUMP again", (4, 1, 1), "not stopped after 10,000", "'limit'"),
    ],
)
def test_a_run_that_does_not_halt(
    program: str, place: tuple[int, int, int], what: str, mend: str
) -> None:
    (warning,) = lesson(scene(program)).problems
    assert warning.warning
    assert (warning.line, warning.column, warning.length) == place
    assert what in warning.what
    assert mend in warning.mend


def test_a_word_that_is_no_instruction() -> None:
    """On the 16-bit machine the code 16 (4096 is 16 times 256) has no instruction yet."""
    (warning,) = lesson(scene("LOAD #1\n4096"), "machine: 16-bit\n").problems
    assert (warning.line, warning.column, warning.length) == (8, 1, 4)
    assert "no instruction" in warning.what
    assert "HALT" in warning.mend


def test_inputs_that_run_out() -> None:
    inputs = "```inputs\n1, 2\n```\n"
    (warning,) = lesson(scene("INPUT\nJUMP 0", inputs)).problems
    assert "it has read all 2" in warning.what
    (warning,) = lesson(scene("INPUT\nJUMP 0", "```inputs\n1\n```\n")).problems
    assert "it has read 1" in warning.what


def test_the_same_run_is_told_of_once() -> None:
    found = lesson(scene("INPUT") + "# Two\nMore about it.\n")
    assert [each.line for each in found.problems] == [6]
    # Other inputs make another run; it is told of at the scene, which has no program of its own.
    found = lesson(scene("INPUT\nINPUT") + "# Two\n```inputs\n1\n```\n")
    assert [(each.line, each.column) for each in found.problems] == [(6, 1), (9, 1)]


def test_words_that_the_board_has_no_room_for() -> None:
    said = "Look at the accumulator. " * 8
    cues = f"```cues\nstart: {said[:190]}\nend: {said[:191]}\n```\n"
    (warning,) = lesson(scene("HALT", cues)).problems
    assert (warning.line, warning.warning) == (10, True)
    # The place, before its colon, is what is marked.
    assert (warning.column, warning.length) == (1, len("end"))
    assert "191 letters, and the board has room for 190" in warning.what
    assert "two cues" in warning.mend


def test_a_number_that_runs_before_a_halt() -> None:
    """The HALT is there, so it is not said to be missing: the number is what is wrong."""
    (warning,) = lesson(scene("LOAD x\nx: 5\nHALT")).problems
    assert (warning.line, warning.column, warning.warning) == (7, 1, True)
    assert "comes to this number before it comes to HALT" in warning.what
    assert "missing" not in warning.mend and "jump over" in warning.mend
    # A lesson may mean it: the number is carried out, and the run comes to its HALT.
    meant = f"LOAD x\nx: {word('OUTPUT')}\nHALT"
    assert lesson(scene(meant)).problems == ()


def test_blocks_without_anything_in_them() -> None:
    text = "# One\n```program\nHALT\n```\n```cues\n\n```\n```inputs\n```\n"
    cues, inputs = lesson(text).problems
    assert (cues.line, cues.warning, "'cues' block is empty" in cues.what) == (8, True, True)
    assert (inputs.line, inputs.warning, "'inputs' block is empty" in inputs.what) == (
        11,
        True,
        True,
    )


def test_inputs_set_apart_by_semicolons() -> None:
    text = "# One\n```program\nINPUT\nHALT\n```\n```inputs\n{}\n```\n"
    (warning,) = lesson(text.format("3; 8")).problems
    assert (warning.line, warning.column, warning.length) == (10, 4, 1)
    assert warning.warning and "so 8 is not read" in warning.what and "a comma" in warning.mend
    for fine in ("3 ; the first of 8", "3, 8", "3 ; then"):
        assert not lesson(text.format(fine)).problems


def test_scenes_of_one_name_and_empty_scenes() -> None:
    found = lesson("# One\nWords.\n# ONE\nWords.\n# Two\n")
    same, empty = found.problems
    assert (same.line, "called 'ONE' already" in same.what) == (6, True)
    assert (empty.line, "'Two' is empty" in empty.what) == (8, True)


def test_a_cue_in_a_scene_without_a_program() -> None:
    found = lesson("# One\n```cues\nstart: Hello.\nfetch 1: Never.\n```\n")
    (warning,) = found.problems
    assert (warning.line, "has no program" in warning.what) == (7, True)


def test_a_block_in_a_list_is_only_text() -> None:
    found = lesson("# One\n- item\n\n  ```program\n  HALT\n  ```\n")
    (warning,) = found.problems
    assert (warning.line, warning.column) == (7, 3)
    assert "only text" in warning.what
    assert "HALT" in found.scenes[0].notes


def test_a_block_without_an_end() -> None:
    found = read_lesson("w", "---\ntitle: W\n---\n# One\n```program\nHALT\n\n# Two\n")
    fault = found.faults[0]
    assert (fault.line, "has no end" in fault.what, "'```'" in fault.mend) == (5, True, True)


def test_columns_of_an_indented_block_are_those_of_the_file() -> None:
    found = read_lesson(
        "w", "---\ntitle: W\n---\n# One\n  ```cues\n  start: a\n    b\n  frist ADD: x\n  ```\n"
    )
    (fault,) = found.faults
    assert (fault.line, fault.column) == (8, 3)
    (cue,) = found.scenes[0].cues
    assert cue.words == "a b"


def test_a_file_with_very_many_faults() -> None:
    blocks = "".join(f"```blok{at}\n```\n" for at in range(500))
    found = read_lesson("w", f"---\ntitle: W\n---\n# One\n{blocks}")
    assert len(found.faults) == MOST_PROBLEMS + 1
    assert "not all of it was read" in found.faults[0].what


def test_key_terms() -> None:
    terms = "terms:\n  opcode: what to do\n  operand: with what\n"
    found = lesson("# One\nWords.\n", terms)
    assert found.header.terms == (("opcode", "what to do"), ("operand", "with what"))
    found = lesson("# One\nWords.\n", "terms:\n  - opcode\n")
    assert found.header.terms == (("opcode", ""),)
    (fault,) = read_lesson("w", "---\ntitle: W\nterms: opcode\n---\n# One\nWords.\n").faults
    assert fault.line == 3 and "'opcode: what to do'" in fault.mend


# A program without HALT, and the line and column of its last instruction.
WITHOUT_HALT = {
    "into its data": ("LOAD x\n  OUTPUT ; show\nx: 9", (7, 3, 6)),
    "off the program": ("LOAD #1\nOUTPUT", (7, 1, 6)),
    "past what it jumps over": ("JUMP on\nx: 9\non: ADD x", (8, 1, 9)),
    "into data that asks": (f"LOAD #1\nx: {word('INPUT')}", (6, 1, 7)),
}


@pytest.mark.parametrize(("program", "place"), WITHOUT_HALT.values(), ids=WITHOUT_HALT)
def test_a_program_without_halt(program: str, place: tuple[int, int, int]) -> None:
    (warning,) = lesson(scene(program)).problems
    assert (warning.line, warning.column, warning.length) == place
    assert "no HALT" in warning.what
    assert "Write HALT" in warning.mend


def test_a_program_of_numbers_needs_no_halt() -> None:
    assert lesson(scene(f"{word('LOAD #9'):#x}\n{word('OUTPUT'):#x}")).problems == ()


def test_a_halt_that_the_program_makes_itself_will_do() -> None:
    program = "LOAD stop\nSTORE x\nx: OUTPUT\nstop: 0"
    assert lesson(scene(program)).problems == ()


@pytest.mark.parametrize(
    ("program", "what"),
    [("again: JUMP again", "has not stopped"), ("INPUT\nHALT", "waits"), ("OUTPUT", "no HALT")],
)
def test_the_program_of_a_task(program: str, what: str) -> None:
    """It is for the pupils to mend; but a teacher who speaks about its run wants it to end."""
    task = "```task\ngoal: Give 5.\ngives 5\n```\n"
    assert lesson(scene(program, task)).problems == ()
    cues = "```cues\nstart: Look.\n```\n"
    (warning,) = lesson(scene(program, task + cues)).problems
    assert what in warning.what


def test_numbers_that_the_board_shows_as_others() -> None:
    blocks = "```inputs\n7, 200 0b11\n```\n```task\ngoal: Give it.\ninputs 130 gives 1, 255\n```\n"
    found = lesson(scene("INPUT\nHALT\nwash: 200", blocks))
    assert [(each.line, each.column) for each in found.problems] == [
        (8, 7),
        (11, 4),
        (15, 8),
        (15, 21),
    ]
    shown = ["-56", "-56", "-126", "-1"]
    for each, number in zip(found.problems, shown, strict=True):
        assert each.warning and f"will show {number} " in each.what
    assert found.scenes[0].task


def test_a_long_minus_is_a_minus() -> None:
    found = lesson(scene("INPUT\nHALT\nx: −6", "```inputs\n–6\n```\n"))
    assert found.problems == ()
    assert (found.scenes[0].program.words[2], found.scenes[0].inputs) == (0xFA, (0xFA,))  # data


def test_the_line_of_a_label_is_that_of_the_file() -> None:
    body = scene("HALT\nx: 1\nx: 2")
    (fault,) = read_lesson("w", f"---\ntitle: W\n---\n{body}").faults
    assert (fault.line, "line 7 has it" in fault.what) == (8, True)


def test_inputs_that_nobody_reads() -> None:
    inputs = "```inputs\n1, 2\n```\n"
    (warning,) = lesson(scene("LOAD #1\nHALT", inputs)).problems
    assert (warning.line, "reads none of these inputs" in warning.what) == (9, True)
    assert lesson(scene("INPUT\nHALT", inputs)).problems == ()
    task = "```task\ngoal: Give 1.\ninputs 1 gives 1\n```\n"
    assert lesson(scene("LOAD #1\nHALT", inputs + task)).problems == ()


LOOP = "again: INPUT\nJUMP again IF LESS\nHALT"
UNSEEN = "show: everything but the status\n"
BODY = scene(LOOP, "```inputs\n-1, 2\n```\n")
BY_STATUS = "```question\nbefore last jump: What is the status?\nask: the status\n```\n"


def test_a_status_that_is_needed_and_not_on_the_board() -> None:
    assert lesson(BODY).problems == ()
    (warning,) = lesson(BODY, UNSEEN).problems
    assert (warning.line, warning.column, warning.length) == (8, 1, 18)
    assert "JUMP IF looks at the status, and the status is not on the board" in warning.what
    assert "[show status]" in warning.mend
    program, question = lesson(BODY + BY_STATUS, UNSEEN).problems
    assert (program.line, question.line) == (8, 16)
    assert "This question is about the status" in question.what
    # A cue may bring it on stage, and a program without an IF does not need it.
    cue = "```cues\nfirst jump: Look at the mark. [show status]\n```\n"
    assert lesson(BODY + cue, UNSEEN).problems == ()
    assert lesson(scene("LOAD #1\nJUMP on\non: HALT"), UNSEEN).problems == ()
    # Nor is it missed where there is nothing to be worked out on the board.
    assert lesson(BODY, "show: main memory\n").problems == ()


@pytest.mark.parametrize(("mark", "asks"), [("CARRY", False), ("OVERFLOW", True), ("LESS", True)])
def test_a_jump_that_asks_for_the_carry_does_not_look_at_the_status(mark: str, asks: bool) -> None:
    """The carry stands beside the status, as a part of its own; overflow is shown in it."""
    head = f"machine: 16-bit\nwith: bit operations\n{UNSEEN}"
    found = lesson(scene(f"LOAD #1\nJUMP e IF {mark}\ne: HALT"), head)
    assert ["looks at the status" in each.what for each in found.problems] == [True] * asks
    bare = lesson(scene(f"JUMP e IF {mark}\ne: HALT"), head)
    assert Taught.by(bare).unready is asks
