"""Pupils explore: what each press answers, and what hostile ones get."""

from __future__ import annotations

import re
import time
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from werkzeug.test import TestResponse

from app import create_app
from app.classroom.tokens import Names
from app.machine.machine import EIGHT_BIT, MACHINES, SIXTEEN_BIT
from app.machine.source.assembler import LARGEST_SOURCE, assemble
from app.machine.state import Ending
from app.web.explore import work
from app.web.explore.memory import rewrite, words
from app.web.explore.trial import ACTIONS
from tests.asking import ASKING, teach, write_lesson
from tests.codes import bits

SUM = "LOAD #5\nADD #3\nOUTPUT\nHALT\n"
ENDLESS = "again: ADD #1\nJUMP again\n"
ECHO = "again: INPUT\nOUTPUT\nJUMP again\n"
# Steps: LOAD 1-6, SUBTRACT 7-12, JUMP 13-18, SUBTRACT 19-24, JUMP 25-30, HALT 31-36.
LOOP = "      LOAD #2\nagain: SUBTRACT #1\n      JUMP again IF MORE\n      HALT\n"

TASK_LESSON = """---
title: The larger of two
machine: 8-bit
---

# Which is more?

```program
        INPUT
        STORE first
        INPUT
        OUTPUT
        HALT
first:  0
```

```task
goal: Output the larger of any two numbers.
inputs 3, 8 gives 8
inputs 8, 3 gives 8
inputs -5, -7 gives -5
```

# No task here
"""
LARGER = """
        INPUT
        STORE first
        INPUT
        COMPARE first
        JUMP show IF MORE
        LOAD first
show:   OUTPUT
        HALT
first:  0
"""


def press(client: FlaskClient, go: str = "here", path: str = "press", **work: str) -> TestResponse:
    form = {"machine": "8-bit", "program": SUM, "step": "0", "go": go} | work
    return client.post(f"/explore/{path}", data=form)


def facts(answer: TestResponse) -> dict[str, str]:
    """What the page is told beside the frame."""
    assert answer.status_code == 200, answer.text
    tag = re.search(r'<p id="facts"[^>]*>([^<]*)', answer.text)
    assert tag, answer.text
    return dict(re.findall(r'data-(\w+)="([^"]*)"', tag[0])) | {"note": tag[1]}


def step_of(answer: TestResponse) -> int:
    return int(facts(answer)["step"])


# Pages.


def test_blank_machines(client: FlaskClient) -> None:
    for machine in MACHINES:
        page = client.get(f"/explore/?machine={machine}")
        assert page.status_code == 200
        assert f'name="machine" value="{machine}"' in page.text
    assert client.get("/explore/?machine=32-bit").status_code == 404


def test_a_scene_opens_with_its_program_and_inputs(client: FlaskClient) -> None:
    page = client.get("/explore/short/2")
    assert page.status_code == 200
    assert "        INPUT\n        HALT</textarea>" in page.text
    assert 'id="inputs" name="inputs" value="6"' in page.text


@pytest.mark.parametrize("path", ["short/0", "short/3", "nowhere/1", "broken/1", "short/x", "../1"])
def test_no_such_scene(client: FlaskClient, path: str) -> None:
    assert client.get(f"/explore/{path}").status_code == 404


def test_a_pupil_of_a_class_finds_the_way_back(web: Flask, client: FlaskClient) -> None:
    lesson = web.extensions["shelf"].lesson("short")
    room = web.extensions["rooms"].open(lesson)
    back = f'<a href="/class/{room.code}">Back to the lesson</a>'
    paths = ("/explore/short/2", "/explore/")
    assert not any("Back to the lesson<" in client.get(path).text for path in paths)
    assert client.get(f"/class/{room.code}").status_code == 200
    assert all(back in client.get(path).text for path in paths)
    web.extensions["rooms"].end(room.name)
    assert not any("Back to the lesson<" in client.get(path).text for path in paths)


def test_nobody_finds_a_code_out_by_saying_that_they_came_from_it(
    web: Flask, client: FlaskClient
) -> None:
    lesson = web.extensions["shelf"].lesson("short")
    code = web.extensions["rooms"].open(lesson).code
    came = {"Referer": f"http://localhost/class/{code}"}
    assert "Back to the lesson<" not in client.get("/explore/", headers=came).text
    another = Names("another secret").shown(code)
    for value in (code, f"{code}.", f"{code}.AAAA", another, "\N{EURO SIGN}"):
        client.set_cookie("class", value, path="/explore")
        page = client.get("/explore/")
        assert page.status_code == 200 and "Back to the lesson<" not in page.text, value


def test_list_of_lessons_leads_here(client: FlaskClient) -> None:
    page = client.get("/").text
    assert 'href="/explore/short/1"' in page and 'href="/explore/short/2"' in page
    assert 'href="/explore/"' in page
    assert "/explore/broken" not in page


def test_every_page_is_made_of_files(client: FlaskClient) -> None:
    page = client.get("/explore/short/1").text
    assert " style=" not in page and "<style" not in page and " onclick" not in page
    assert all(" src=" in each for each in re.findall(r"<script[^>]*>", page))
    for address in re.findall(r'(?:src|href)="(/(?:static|htmx|pages)[^"]*)"', page):
        assert client.get(address.replace("&amp;", "&")).status_code == 200


# Presses.


@pytest.mark.parametrize(
    ("go", "step", "comes_to"),
    [
        ("forward", 0, 1),
        ("forward", 24, 24),
        ("back", 1, 0),
        ("back", 0, 0),
        ("phase", 0, 4),
        ("phase", 5, 6),
        ("instruction", 0, 6),
        ("instruction", 8, 12),
        ("instruction-back", 8, 6),
        ("restart", 20, 0),
        ("end", 3, 24),
        ("here", 7, 7),
        ("here", 900, 24),
    ],
)
def test_moves(client: FlaskClient, go: str, step: int, comes_to: int) -> None:
    assert step_of(press(client, go, step=str(step))) == comes_to


def test_whole_phases(client: FlaskClient) -> None:
    answer = press(client, "forward", depth="phases")
    assert step_of(answer) == 4
    assert "no-MAR" in answer.text
    assert step_of(press(client, "back", depth="phases", step="6")) == 5


def test_only_a_step_on_is_a_movement(client: FlaskClient) -> None:
    moving = '<li data-routes="'
    assert moving in press(client, "forward").text
    assert moving not in press(client, "forward", movement="off").text
    for go in ("back", "end", "instruction", "here"):
        assert moving not in press(client, go, step="3").text


def test_timeline(client: FlaskClient) -> None:
    for at, step in enumerate((0, 6, 12, 18, 24)):
        found = facts(press(client, "to", at=str(at)))
        assert (int(found["step"]), found["count"], found["at"]) == (step, "4", str(at))
    assert step_of(press(client, "to", at="999")) == 24


def test_the_line_under_way(client: FlaskClient) -> None:
    lines = [
        facts(press(client, step=str(step), program=LOOP))["line"] for step in (0, 1, 6, 7, 18, 19)
    ]
    assert lines == ["1", "1", "1", "2", "3", "2"]


def test_run_to_a_line(client: FlaskClient) -> None:
    def to(line: int, step: int) -> TestResponse:
        return press(client, "line", program=LOOP, at=str(line), step=str(step))

    assert step_of(to(2, 0)) == 6
    assert step_of(to(2, 6)) == 18
    found = facts(to(2, 18))
    assert found["step"] == "18"
    assert found["note"] == "From here the program does not come to line 2 again."
    assert "no instruction on line 9" in facts(to(9, 0))["note"]


def test_run_to_a_line_of_data(client: FlaskClient) -> None:
    def note(program: str, line: int) -> str:
        return facts(press(client, "line", program=program, at=str(line)))["note"]

    program = "LOAD a\nHALT\n\na: 5\n"
    assert note(program, 4) == "Line 4 is data, so the machine never carries it out."
    assert note(program, 3) == "There is no instruction on line 3 to run to."
    # Without HALT it does come to its data.
    assert step_of(press(client, "line", program="LOAD a\na: 5\n", at="2")) == 8


def test_a_program_that_runs_on_into_its_data_is_told(client: FlaskClient) -> None:
    hint = "Perhaps a HALT is missing"
    assert hint in press(client, path="check", program="LOAD a\na: 5\n").text
    assert hint in press(client, path="check", program="LOAD #1\nOUTPUT\n").text
    for program in (SUM, ENDLESS, ECHO, LOOP, "", "LOAD a\nHALT\na: 5\n", "INPUT\nHALT"):
        assert hint not in press(client, path="check", program=program).text


def test_data_that_runs_before_a_halt_is_told(client: FlaskClient) -> None:
    """The HALT is there, so it is not said to be missing."""
    text = press(client, path="check", program="LOAD a\na: 5\nHALT\n").text
    assert "HALT is missing" not in text
    assert "Line 2 is a number, and the machine comes to it before it comes to HALT" in text
    past = press(client, path="check", program="JUMP 3\nHALT\n").text
    assert "HALT is missing" not in past and "jumps past its last line" in past


def test_data_that_is_shown_as_another_number_is_told(client: FlaskClient) -> None:
    text = press(client, path="check", program="LOAD a\nHALT\na: 200\n").text
    assert "Line 3" in text and "The board will show -56 for this" in text
    bits = "HALT\na: 0b11001000\n"  # data
    assert "will show" not in press(client, path="check", program=bits).text


def test_a_long_run_is_followed_further(client: FlaskClient) -> None:
    """3 x 4,000 instructions and HALT, worked by hand: more than the first 10,000."""
    source = "again: LOAD n\nSUBTRACT #1\nSTORE n\nJUMP again IF MORE\nHALT\nn: 3000"
    work = {"machine": "16-bit", "program": source}
    first = facts(press(client, "end", **work))
    assert (first["limit"], first["further"], first["ending"]) == ("10000", "yes", "limit")
    assert first["count"] == "10000"
    more = facts(press(client, "further", step="12", **work))
    assert (more["limit"], more["further"], more["ending"]) == ("100000", "", "halted")
    assert (more["count"], more["step"]) == ("12001", "12")
    end = facts(press(client, "end", limit="100000", **work))
    assert end["at"] == "12001"
    endless = facts(press(client, "end", program=ENDLESS, limit="100000"))
    assert (endless["ending"], endless["further"]) == ("limit", "")
    assert press(client, "end", limit="1000000", **work).status_code == 400


def test_a_number_that_is_shown_as_another_is_told_and_does_not_stop_the_machine(
    client: FlaskClient,
) -> None:
    program = "INPUT\nADD wash\nOUTPUT\nHALT\nwash: 200\n"
    checked = press(client, path="check", program=program, inputs="130").text
    # In two's complement of eight bits, 200 is 200 - 256 and 130 is 130 - 256.
    assert "The board will show -56 for this" in checked and "Write -56" in checked
    assert "The board will show -126 for this" in checked
    assert checked.count('<li class="warning"') == 2 and "Nothing to mend" in checked
    assert facts(press(client, "end", program=program, inputs="130"))["ending"] == "halted"


def test_a_semicolon_between_inputs_is_told(client: FlaskClient) -> None:
    assert "&#39;3;&#39; is not a number" in press(client, path="check", inputs="3; 8").text
    assert "The inputs need mending first" in press(client, "forward", inputs="3; 8").text


@pytest.mark.parametrize(
    ("given", "wrong"),
    [
        ("7", ""),
        ("7 0b11", ""),
        ("abc", "is not a number. Write numbers such as 7, with commas between them."),
        ("900", "does not fit a word of 8 bits."),
        ("", "Write a number such as 7."),
    ],
)
def test_what_is_given_to_the_machine_is_checked(
    client: FlaskClient, given: str, wrong: str
) -> None:
    answer = press(client, path="give", given=given)
    assert answer.status_code == 200
    assert wrong in answer.text and bool(answer.text.strip()) == bool(wrong)


STACK = "16-bit_stack"
# A machine, a program and what the timeline says after its last instruction.
ENDS = {
    Ending.HALTED: ("8-bit", "HALT", ""),
    Ending.LIMIT: ("8-bit", ENDLESS, ": it has not stopped, and is followed no further"),
    Ending.WAITING: ("8-bit", "INPUT", " so far"),
    Ending.OFF_MEMORY: ("8-bit", "LOAD #0\n" * 16, ": then it runs past the end"),
    Ending.UNKNOWN_CODE: ("16-bit", "0x1000", ": then it meets no instruction"),  # data
    Ending.NO_ADDRESS: (STACK, "LOAD #0 FROM STACK", ": then there is no such address"),
    Ending.STACK_EMPTY: (STACK, "POP", ": then the stack is empty"),
    Ending.STACK_FULL: (STACK, "again: CALL again", ": then the stack is full"),
}


@pytest.mark.parametrize("ending", Ending)
def test_the_timeline_says_how_the_run_ends(client: FlaskClient, ending: Ending) -> None:
    machine, program, words = ENDS[ending]
    found = facts(press(client, "end", machine=machine, program=program))
    assert (found["ending"], found["ends"]) == (ending, words)


def test_a_run_that_never_halts_says_so_and_can_be_walked(client: FlaskClient) -> None:
    end = press(client, "end", program=ENDLESS)
    found = facts(end)
    assert (found["ending"], found["count"]) == ("limit", "10000")
    assert "has not stopped after 10,000 instructions" in end.text
    middle = press(client, "to", program=ENDLESS, at="5000")
    assert facts(middle)["at"] == "5000"
    assert step_of(press(client, "forward", program=ENDLESS, step="30000")) == 30_001


def test_the_machine_asks_for_an_input(client: FlaskClient) -> None:
    waiting = press(client, "end", program=ECHO)
    assert facts(waiting)["waits"] == "yes"
    step = facts(waiting)["step"]
    given = press(client, "forward", program=ECHO, step=step, inputs="7")
    assert int(facts(given)["step"]) == int(step) + 1
    end = press(client, "end", program=ECHO, inputs="7, 0b11 0xA")
    assert re.search(r'aria-label="Output">.*?7.*?3.*?10', end.text, re.DOTALL)


def test_settings(client: FlaskClient) -> None:
    assert facts(press(client, "base", step="3"))["base"] == "hexadecimal"
    assert facts(press(client, "depth", step="3"))["depth"] == "phases"
    assert facts(press(client, "movement"))["movement"] == "off"
    assert facts(press(client, "faster", speed="8"))["speed"] == "8"
    assert facts(press(client, "slower", speed="0.5"))["speed"] == "0.25"
    assert facts(press(client, "base", step="3"))["step"] == "3"


def test_what_a_pupil_writes_is_text(client: FlaskClient) -> None:
    evil = "<script>alert(1)</script>"
    for answer in (
        press(client, title=evil, about=evil),
        press(client, path="check", program=f"{evil}: 1\n{evil}"),
        press(client, path="memory/0", word=evil),
        press(client, path="check", inputs=evil),
    ):
        assert "<script" not in answer.text


# Checking.


def test_check_finds_every_fault(client: FlaskClient) -> None:
    answer = press(client, path="check", program="LAOD #5\nADD bagg\nHALT\nbag: 999\n")
    assert [int(each) for each in re.findall(r'data-line="(\d+)" data-column', answer.text)] == [
        1,
        2,
        4,
    ]
    assert "Did you mean LOAD?" in answer.text
    assert 'id="frame"' not in answer.text


@pytest.mark.parametrize("program", [SUM, "LAOD #5"])
@pytest.mark.parametrize(
    ("path", "form"),
    [
        ("check", {}),
        ("press", {"go": "forward"}),
        ("press", {"go": "forward", "predict": "on"}),
        ("mark", {"value": "4"}),
        ("memory", {"wrong": "1", "word": "many"}),
    ],
)
def test_a_program_is_assembled_once_a_request_and_not_again(
    client: FlaskClient,
    monkeypatch: pytest.MonkeyPatch,
    program: str,
    path: str,
    form: dict[str, str],
) -> None:
    assembled: list[str] = []
    plain = work.assemble
    monkeypatch.setattr(
        work, "assemble", lambda machine, text: assembled.append(text) or plain(machine, text)
    )
    program += f"\n; {path} {form}"  # none that another test has sent
    for _ in range(3):
        assert press(client, path=path, program=program, **form).status_code == 200
    assert [each for each in assembled if each == program] == [program]


def test_check_of_a_program_without_fault_brings_the_machine(client: FlaskClient) -> None:
    answer = press(client, path="check")
    assert "Nothing to mend. 4 of 16 words" in answer.text
    one = press(client, path="check", program="HALT").text
    assert "1 of 16 words of memory is used." in one
    assert 'id="frame"' in answer.text
    assert "One thing to mend" not in answer.text


def test_faults_stop_every_press(client: FlaskClient) -> None:
    for go in ACTIONS:
        answer = press(client, go, program="NOPE")
        assert answer.status_code == 200
        assert answer.headers["HX-Retarget"] == "#note"
        assert "Line 1 of the program needs mending" in answer.text
    answer = press(client, "forward", inputs="x")
    assert answer.headers["HX-Retarget"] == "#note"


# Memory.


def test_memory_shows_what_each_word_means(client: FlaskClient) -> None:
    text = press(client, path="memory", program="LOAD fare\nHALT\nfare: 9").text
    assert "copy what is stored at address 2 to the accumulator" in text
    assert text.count('name="word"') == 16
    assert 'value="LOAD fare"' in text


def test_memory_as_it_is_now(client: FlaskClient) -> None:
    program = "LOAD #7\nSTORE 3\nHALT\n0"
    assert "now 7" in press(client, path="memory", program=program, step="20").text
    assert "now 7" not in press(client, path="memory", program=program).text


@pytest.mark.parametrize(
    ("address", "text", "line"),
    [
        (4, "13", "fare:   13 ; the price"),
        (4, "0b1101", "fare:   0b1101 ; the price"),
        (4, "0000 1101", "fare:   0b00001101 ; the price"),
        (4, "-3", "fare:   -3 ; the price"),
        (1, "SUBTRACT fare", "        SUBTRACT fare ; more"),
        (1, bits("SUBTRACT #2"), "        SUBTRACT #2 ; more"),
    ],
)
def test_a_changed_word_is_changed_in_the_text(address: int, text: str, line: str) -> None:
    source = "        LOAD #1\n        ADD fare ; more\n\n        OUTPUT\n        HALT\n"
    source += "fare:   9 ; the price\n"
    program = assemble(EIGHT_BIT, source)
    changed = rewrite(program, address, text)
    squeezed = [re.sub(r" +;", " ;", each) for each in changed.split("\n")]
    assert line in squeezed
    after = assemble(EIGHT_BIT, changed)
    assert not after.problems
    same = [at for at in range(len(program.words)) if at != address]
    assert [after.words[at] for at in same] == [program.words[at] for at in same]


def test_a_word_past_the_program() -> None:
    program = assemble(EIGHT_BIT, SUM)
    after = assemble(EIGHT_BIT, rewrite(program, 9, "42"))
    assert after.words == (*program.words, 0, 0, 0, 0, 0, 42)


@pytest.mark.parametrize(
    "text", ["", "999", "1 2", "JUMP", "a: 5", "5 ; x", "1\n2", "NOPE", "x" * 90]
)
def test_a_word_that_cannot_be(client: FlaskClient, text: str) -> None:
    answer = press(client, path="memory/0", word=text)
    assert answer.status_code == 200
    assert 'id="wrong-word"' in answer.text and "rewritten" not in answer.text


@given(
    st.lists(st.integers(0, 255), min_size=1, max_size=16),
    st.integers(0, 15),
    st.integers(0, 255),
)
@settings(deadline=None)
def test_every_word_can_be_written_and_read_back(image: list[int], address: int, word: int) -> None:
    program = assemble(EIGHT_BIT, "".join(f"{each}\n" for each in image))
    after = assemble(EIGHT_BIT, rewrite(program, address, f"{word:08b}"))
    expected = [*image, *[0] * (16 - len(image))]
    expected[address] = word
    assert [*after.words, *[0] * (16 - len(after.words))] == expected


@pytest.mark.parametrize("base", ["binary", "denary", "hexadecimal"])
@pytest.mark.parametrize("format", [EIGHT_BIT, SIXTEEN_BIT])
def test_what_is_shown_can_be_typed(base: str, format: object) -> None:
    program = assemble(SIXTEEN_BIT, "LOAD x\nJUMP 0 IF LESS\nHALT\nx: -300\n500")
    for word in words(program, base, None)[:8]:
        after = assemble(SIXTEEN_BIT, rewrite(program, word.address, word.written))
        assert after.words[: len(program.words)] == program.words


# Predicting.


def test_predict_asks_first_and_then_marks(client: FlaskClient) -> None:
    question = press(client, "forward", predict="on")
    assert question.headers["HX-Retarget"] == "#question"
    assert "Which part will change?" in question.text and 'id="frame"' not in question.text
    answer = press(client, path="mark", predict="on", place="MAR", value="1")
    assert 'data-asked="2" data-right="1"' in answer.text
    assert "before the program counter moves on" in answer.text
    assert step_of(answer) == 1


def test_predict_asks_again_where_an_answer_cannot_be_read(client: FlaskClient) -> None:
    answer = press(client, path="mark", predict="on", place="MAR", value="lots")
    assert "Write a number" in answer.text
    assert 'value="lots"' in answer.text and 'id="frame"' not in answer.text


def test_predict_at_the_end_has_nothing_to_ask(client: FlaskClient) -> None:
    assert step_of(press(client, "forward", predict="on", step="24")) == 24
    assert step_of(press(client, path="mark", predict="on", step="24")) == 24


# Tasks.


@pytest.fixture
def tasks(tmp_path: Path) -> FlaskClient:
    (tmp_path / "larger.md").write_text(TASK_LESSON, encoding="utf-8")
    client = create_app(tmp_path).test_client()
    client.environ_base["HTTP_HOST"] = "127.0.0.1:8000"
    return client


def test_task_is_stated(tasks: FlaskClient) -> None:
    page = tasks.get("/explore/larger/1").text
    assert "Output the larger of any two numbers." in page
    assert "3, 8" not in page
    # The one that fails is shown, so it is not said that none can be seen.
    assert "cannot see" not in page and "3 sets of inputs" in page


def test_task_fails_on_an_input_that_can_be_walked_through(tasks: FlaskClient) -> None:
    source = re.search(
        r'name="program".*?>\n(.*?)</textarea>', tasks.get("/explore/larger/1").text, re.S
    )
    assert source
    answer = press(tasks, path="larger/1/task", program=source[1])
    assert "With inputs 8, 3 the program should give 8; it gave 3." in answer.text
    assert 'data-inputs="8, 3"' in answer.text
    walked = press(tasks, "end", program=source[1], inputs="8, 3")
    assert facts(walked)["ending"] == "halted"


def test_task_done(tasks: FlaskClient) -> None:
    assert "Done." in press(tasks, path="larger/1/task", program=LARGER).text


def test_a_table_of_the_cases_does_not_do_a_task_that_has_a_solution(
    tmp_path: Path, tasks: FlaskClient
) -> None:
    """The written cases are tried first, then others, which are made afresh from the solution."""
    table = (
        "INPUT\nCOMPARE #0\nJUMP minus IF LESS\nLOAD #8\nOUTPUT\nHALT\n"
        "minus: LOAD five\nOUTPUT\nHALT\nfive: -5\n"
    )
    assert "All 3 cases are right." in press(tasks, path="larger/1/task", program=table).text
    text = TASK_LESSON.replace("# No task", f"```solution{LARGER}```\n\n# No task")
    (tmp_path / "larger.md").write_text(text, encoding="utf-8")
    answers = [press(tasks, path="larger/1/task", program=table).text for _ in range(2)]
    assert all("Not yet." in each for each in answers)
    done = press(tasks, path="larger/1/task", program=LARGER).text
    assert re.search(r"All 3 cases are right, and [1-8] more that were made for this check\.", done)
    assert "others that it makes up each time" in tasks.get("/explore/larger/1").text


def test_a_task_is_not_done_without_a_halt(tasks: FlaskClient) -> None:
    """Empty memory is the word of HALT, so the program stops all the same."""
    program = LARGER.replace("HALT\n", "").replace("first:  0", "")
    program = program.replace("first", "15")
    assert "a HALT is missing" in press(tasks, path="larger/1/task", program=program).text


def test_predicting_in_the_execute_phase_alone(client: FlaskClient) -> None:
    """Fetch and decode go by without a question: LOAD #5 is fetched in 4 steps, decoded in 1."""
    for step in range(5):
        answer = press(client, "forward", program=SUM, step=str(step), predict="execute")
        assert "What will happen next?" not in answer.text
        assert f'data-step="{step + 1}"' in answer.text
    answer = press(client, "forward", program=SUM, step="5", predict="execute")
    assert "What will happen next?" in answer.text
    assert (
        "What will happen next?"
        in press(client, "forward", program=SUM, step="0", predict="on").text
    )


def test_task_with_a_fault_or_without_end(tasks: FlaskClient) -> None:
    assert "needs mending" in press(tasks, path="larger/1/task", program="NOPE").text
    assert "Write a program first" in press(tasks, path="larger/1/task", program="").text
    assert "Not yet." in press(tasks, path="larger/1/task", program=ENDLESS).text
    assert press(tasks, path="larger/7/task").status_code == 404
    assert press(tasks, path="nowhere/1/task").status_code == 404


# What no page of ours would send.

PATHS = ("press", "check", "give", "mark", "memory", "memory/0")


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize(
    "work",
    [
        {"machine": ""},
        {"machine": "4-bit"},
        {"step": "-1"},
        {"step": "x"},
        {"step": "99999999"},
        {"step": "\N{SUPERSCRIPT TWO}"},
        {"depth": "deep"},
        {"base": "octal"},
        {"speed": "1000000"},
        {"speed": "nan"},
        {"program": ";" * (LARGEST_SOURCE + 1)},
    ],
)
def test_malformed_work_is_refused_in_words(
    client: FlaskClient, path: str, work: dict[str, str]
) -> None:
    answer = press(client, path=path, **work)
    assert answer.status_code == 400
    assert "Traceback" not in answer.text


def test_malformed_presses(client: FlaskClient) -> None:
    assert press(client, "explode").status_code == 400
    assert press(client, "").status_code == 400
    assert press(client, "to", at="-5").status_code == 400
    assert press(client, path="memory/99999", word="1").status_code == 200
    assert client.post("/explore/press").status_code == 400
    assert client.get("/explore/press").status_code in (404, 405)
    assert (
        client.post("/explore/press", data=b"\xff\xfe", content_type="text/plain").status_code
        == 400
    )


def test_a_body_that_is_too_large(client: FlaskClient) -> None:
    assert press(client, title="x" * 300_000).status_code == 413


texts = st.text(max_size=200) | st.sampled_from([SUM, ECHO, ENDLESS, LOOP, "", "\0", "HALT:"])


@given(
    path=st.sampled_from(PATHS),
    program=texts,
    inputs=texts,
    step=st.integers(0, 70_000).map(str),
    go=st.sampled_from(ACTIONS),
    at=st.integers(0, 20_000).map(str),
    machine=st.sampled_from(["8-bit", "16-bit"]),
    predict=st.sampled_from(["on", ""]),
    answers=st.fixed_dictionaries({"place": texts, "value": texts, "next": texts, "word": texts}),
)
@settings(
    max_examples=250, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_nothing_breaks_the_server(
    web: Flask, answers: dict[str, str], path: str, go: str, **work: str
) -> None:
    client = web.test_client()
    client.environ_base["HTTP_HOST"] = "127.0.0.1:8000"
    assert press(client, go, path, **work, **answers).status_code == 200


def test_a_fault_in_the_file_takes_no_pupils_machine_away(tmp_path: Path) -> None:
    file = write_lesson(tmp_path) / "asking.md"
    web = create_app(tmp_path)
    client = web.test_client()
    room = teach(web, client)
    room.session.go_to_step(1)
    pupil = web.test_client()
    for text in (f"{ASKING}\n```program\nLAOD #1\n```\n", "", None):
        file.write_text(text) if text is not None else file.unlink()
        way = pupil.get(f"/class/{room.code}/try")
        page = pupil.get(way.location)
        assert page.status_code == 200 and "LOAD  fare" in page.text
        task = pupil.post(f"{way.location}/task", data={"machine": "8-bit", "program": "HALT"})
        assert task.status_code == 404 and "no task" in task.text
    assert pupil.get("/explore/nowhere/1").status_code == 404


@pytest.mark.parametrize("machine", MACHINES)
def test_beside_a_scene_without_a_program_the_machine_is_that_of_the_lesson(
    tmp_path: Path, machine: str
) -> None:
    text = ASKING.replace("8-bit", machine).replace(
        "# ", "# How small\n\n```scale\na hair: 80 µm\na gate: 1 µm\n```\n\n# ", 1
    )
    (tmp_path / "asking.md").write_text(text, encoding="utf-8")
    web = create_app(tmp_path)
    room = teach(web, web.test_client())
    page = web.test_client().get(f"/class/{room.code}/try", follow_redirects=True).text
    assert f'name="machine" value="{machine}"' in page


def test_the_other_programs_are_those_of_lessons_that_were_taught(tmp_path: Path) -> None:
    write_lesson(tmp_path)
    (tmp_path / "larger.md").write_text(TASK_LESSON, encoding="utf-8")
    web = create_app(tmp_path)
    client = web.test_client()
    page = client.get("/explore/asking/1").text
    assert '<a href="/explore/asking/2">No bag</a>' in page
    assert '<a href="/explore/asking/1" aria-current="page">' in page
    assert "/explore/larger" not in page
    client.post("/lessons/larger/teach")
    page = client.get("/explore/asking/1").text
    assert '<a href="/explore/larger/1">Which is more?</a>' in page


def test_others_are_served_between_the_lessons_whose_programs_are_offered(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """After a restart the first pupil who came held the board up until all had been read."""
    write_lesson(tmp_path)
    web = create_app(tmp_path)
    for number in range(5):
        (tmp_path / f"taught-{number}.md").write_text(TASK_LESSON, encoding="utf-8")
        web.extensions["rooms"].store.add(f"day-{number}", f"taught-{number}", "Taught")
    read = web.extensions["shelf"]._read
    known: list[int] = []
    monkeypatch.setattr(time, "sleep", lambda _: known.append(len(read)))
    assert web.test_client().get("/explore/asking/1").text.count("Which is more?") == 5
    assert known == [2, 3, 4, 5, 6]


UNSEEN_LESSON = """---
title: No status
machine: 8-bit
show: everything but the status
---

# A sum

```program
LOAD #5
ADD #3
HALT
```
"""


def test_a_status_that_the_lesson_leaves_out(tmp_path: Path) -> None:
    """It is neither shown nor told of, until the pupil's program needs it."""
    (tmp_path / "unseen.md").write_text(UNSEEN_LESSON, encoding="utf-8")
    client = create_app(tmp_path).test_client()
    client.environ_base["HTTP_HOST"] = "127.0.0.1:8000"
    page = client.get("/explore/unseen/1").text
    assert 'name="unseen" value="status"' in page
    work_of = {"machine": "8-bit", "step": "11", "unseen": "status", "predict": "on"}
    said = {"place": "output", "value": "42", "next": "2"}
    for program, told in (
        ("LOAD #5\nADD #3\nHALT", False),
        (LOOP.replace("LOAD #2", "LOAD #9"), True),
    ):
        answer = client.post("/explore/mark", data={**work_of, "program": program, **said}).text
        assert ("the status becomes" in answer) is told
