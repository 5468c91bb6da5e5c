"""A lesson about characters: written, shown and asked for as such, and only where it says so."""

from __future__ import annotations

from pathlib import Path

import pytest
from flask.testing import FlaskClient

from app import create_app
from app.board.frames import make_frame
from app.classroom.session import Session
from app.lesson.asking.predictions import Field, Prediction
from app.lesson.file.reader import read_lesson
from app.lesson.header import Depth
from app.lesson.paper.quiz import make_quiz
from app.machine.machine import SIXTEEN_BIT
from app.machine.source.assembler import assemble
from app.machine.source.numbers import read_numbers
from app.web.explore.memory import rewrite
from tests.showing import show_with

LESSON = """---
title: Letters
machine: 16-bit
characters: yes
---

# A greeting

```inputs
'H', 'i', ' ', ';', 10
```

```program
again:  INPUT
        OUTPUT
        JUMP again
letter: 'A'     ; the first of them
semi:   ';'
space:  ' '
```

```cues
start: Letters. [base characters]
```
"""


def test_a_program_may_write_words_as_characters() -> None:
    lesson = read_lesson("letters", LESSON)
    assert lesson.can_be_taught
    scene = lesson.scenes[0]
    assert scene.program.words[3:] == tuple(map(ord, "A; "))
    assert scene.inputs == (*map(ord, "Hi ;"), 10)


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("letter: 'AB'", "There is not just one character between the quotes of 'AB'."),
        ("letter: '😀'", "The character '😀' has the number 128512, too large for 16 bits."),
        ("LOAD 'A'", "'A' is a character, and here an address is needed."),
        ("LOAD #'é' ; 233\nLOAD #'€'", "8364 cannot be written after '#'"),
        ("letter: 'A' 'B'", "There is something after the number: ''B''."),
    ],
)
def test_what_is_wrong_is_told(line: str, told: str) -> None:
    (problem,) = assemble(SIXTEEN_BIT, line).problems
    assert told in problem.what
    assert problem.mend


def test_lists_of_inputs_have_characters_and_numbers() -> None:
    patterns, problems = read_numbers(SIXTEEN_BIT, "'a', 7, ',', ' ' ';' ; a comment")
    assert patterns == (97, 7, 44, 32, 59) and not problems
    _, (problem,) = read_numbers(SIXTEEN_BIT, "'ab'")
    assert "not just one character" in problem.what


QUOTES = ["''", "‘’", "’’", "‘'"]


@pytest.mark.parametrize("quotes", QUOTES)
@pytest.mark.parametrize("sign", " ,;:A")
def test_an_editor_may_make_its_own_quotes(quotes: str, sign: str) -> None:
    written = f"{quotes[0]}{sign}{quotes[1]}"
    program = assemble(SIXTEEN_BIT, f"LOAD #{written}\nHALT ; {written}\na: {written} ; a sign")
    assert program.problems == ()
    assert (program.words[0] & 255, program.words[2]) == (ord(sign), ord(sign))
    patterns, problems = read_numbers(SIXTEEN_BIT, f"7, {written}, 9 ; a comment")
    assert patterns == (7, ord(sign), 9) and not problems


def test_the_base_is_offered_only_where_the_header_says_so() -> None:
    seen = []
    for text in (LESSON, LESSON.replace("characters: yes\n", "").replace(" [base characters]", "")):
        session = Session("letters", read_lesson("letters", text))
        show_with(session, base="denary")
        bases = []
        for _ in range(4):
            session.change("base")
            bases.append(session.view().settings.base)
        seen.append(bases)
    assert seen[0] == ["hexadecimal", "characters", "binary", "denary"]
    assert seen[1] == ["hexadecimal", "binary", "denary", "hexadecimal"]


def test_a_cue_that_shows_them_needs_the_header() -> None:
    lesson = read_lesson("letters", LESSON.replace("characters: yes\n", ""))
    (problem,) = [each for each in lesson.problems if not each.warning]
    assert "the header does not offer that" in problem.what and not lesson.can_be_taught


def test_the_board_shows_characters_and_a_line_of_text() -> None:
    session = Session("letters", read_lesson("letters", LESSON))
    while session.view().moment.after.ending is None:  # type: ignore[union-attr]
        session.forward_instruction()
    frame = make_frame(session.view())
    assert frame.output_text is not None
    assert frame.output_text[0].now == "Hi ;␊"
    values = {each.place: each.value.now for each in frame.registers}
    assert values["ACC"] == "LF" and values["PC"] == "1"
    # An instruction is one, whatever its bits would name.
    assert set(values["CIR"]) <= {"0", "1", " "}
    session.change("base")
    assert make_frame(session.view()).output_text is None


def test_a_long_line_shows_its_end() -> None:
    many = ", ".join(f"'{each}'" for each in "abcdefghijklmnopqrstuvwxyz")
    session = Session("letters", read_lesson("letters", LESSON.replace("'H', 'i'", many)))
    for _ in range(3 * 27):
        session.forward_instruction()
    text = make_frame(session.view()).output_text
    assert text and text[0].now.startswith("…") and text[0].now.endswith("xyz ")
    assert text[1].now.endswith("xyz ") and len(text[1].now) < len(text[0].now)


@pytest.mark.parametrize("said", ["'H'", "H", "72", "0x48"])  # data
def test_a_pupil_predicts_in_characters(said: str) -> None:
    scene = read_lesson("letters", LESSON).scenes[0]
    # The sixth step takes the first input.
    prediction = Prediction(scene.program, scene.run, 5, Depth.TRANSFERS, "characters")
    marked = prediction.mark(
        {
            each.value: {"place": "ACC", "value": said, "next": "1"}.get(each.value, "")
            for each in Field
        }
    )
    assert [each.right for each in marked if each.question.asks is Field.VALUE] == [True]


def test_explore_and_paper_follow(tmp_path: Path) -> None:
    (tmp_path / "letters.md").write_text(LESSON, "utf-8")
    client: FlaskClient = create_app(tmp_path).test_client()
    page = client.get("/explore/letters/1").text
    assert 'name="characters" value="yes"' in page
    assert '<option value="characters">' in client.get("/paper/letters").text
    trace = client.get("/paper/letters/trace.csv?base=characters").text
    assert "'H'" in trace and "LF" in trace
    assert client.get("/paper/letters/answers?base=characters&scene=1").status_code == 200
    listing = client.get("/paper/letters/worksheets?base=characters&versions=1").text
    assert "the first of them" in listing and "&#39;A&#39;" in listing


def test_memory_takes_a_character_typed_over_a_word() -> None:
    program = read_lesson("letters", LESSON).scenes[0].program
    for typed, number in (("'B'", 66), ("';'", 59), ("':'", 58), ("‘;’", 59)):
        assert assemble(SIXTEEN_BIT, rewrite(program, 3, typed)).words[3] == number
    assert "; the first of them" in rewrite(program, 3, "'B'")


ASKED = """
```question
before first execute of INPUT: What comes in?
ask: the accumulator
choices: 'H' or 'i' or 10
```

```question
before third execute of OUTPUT: What will be printed?
ask: the output so far
choices: 'H', 'i', ' ' or 'H', 'i' or ' '
```
"""


def test_a_carry_is_a_bit_and_no_character() -> None:
    """-1 and -1 carry (the page, 'Bit operations')."""
    head = "title: T\nmachine: 16-bit\nwith: bit operations\ncharacters: yes"
    program = "LOAD big\nADD big\nHALT\nbig: -1"
    question = "before first ADD: Well?\nask: the carry"
    for base in ("characters", "denary"):
        blocks = {"program": program, "cues": f"start: Look. [base {base}]", "question": question}
        fenced = "".join(f"```{kind}\n{text}\n```\n" for kind, text in blocks.items())
        scene = read_lesson("bits", f"---\n{head}\n---\n\n# One\n{fenced}").scenes[0]
        (asked,) = scene.questions
        assert sorted(asked.choices) == ["0", "1"] and asked.choices[asked.answer] == "1"


def test_questions_and_the_quiz_show_what_the_board_shows() -> None:
    scene = read_lesson("letters", LESSON + ASKED).scenes[0]
    first, second = scene.questions
    assert set(first.choices) == {"'H'", "'i'", "LF"}
    assert first.choices[first.answer] == "'H'"
    assert second.choices[second.answer] == "'H', 'i', SP"
    assert "'H'" in first.because
    item = make_quiz(scene, Depth.TRANSFERS)[1]
    assert ("output", "output so far", "'H', 'i'") in item.state
    # Without the base the same question has numbers.
    plain = LESSON.replace(" [base characters]", "") + ASKED
    asked = read_lesson("letters", plain).scenes[0].questions[0]
    assert set(asked.choices) == {"72", "105", "10"}
