"""A lesson in the words of another syllabus: nothing that a pupil or a teacher reads has the usual
ones, and what the lesson's author wrote stays as it is."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path

import pytest
from flask import Flask

from app import create_app
from app.board.frames import make_frame
from app.classroom.session import Session
from app.lesson.asking.predictions import Field, Prediction, Unreadable
from app.lesson.file.reader import read_lesson
from app.lesson.header import Depth
from app.lesson.model import Lesson
from app.machine.telling.wording import THINGS, USUAL, asked_as, wording_of
from app.machine.words import BASES
from app.paths import resource
from tests.showing import show_with

WORDS = "words: decimal, IR, MBR, AC, arithmetic logic unit, processor, immediate access store\n"
# The usual terms. 'Registers' only as a heading of its own.
OLD = re.compile(
    r"denary|current instruction|\bCIR\b|memory data|\bMDR\b|\bACC\b|arithmetic and logic"
    r"|central processing|^\s*registers\s*$",
    re.IGNORECASE | re.MULTILINE,
)
PROSE = "The CIR, the MDR and the ACC of the central processing unit, in denary."

# Every instruction, jumps that go and do not, outputs, inputs, and a sum that does not fit.
LESSON = """---
title: The rowing boat
machine: 8-bit
{head}---

# Rowing

```program
        INPUT
        STORE strokes
again:  LOAD  strokes
        SUBTRACT #1
        STORE strokes
        COMPARE #0
        JUMP again IF MORE
        JUMP on
on:     ADD   wide
        ADD   wide
        OUTPUT
        HALT
strokes: 0
wide:   100
```

```inputs
2
```

```question
before first SUBTRACT: What comes now?
ask: the accumulator
```

```question
before execute 2: And now?
ask: the memory data register
```

```question
before fetch 4: And here?
ask: the current instruction register
```

```question
before execute 3: And there?
ask: the memory address register
```

```question
before first JUMP: Which way?
ask: which way the jump goes
```
{more}"""


def written(head: str, more: str = "") -> str:
    return LESSON.format(head=head, more=more)


def lesson(head: str, more: str = "") -> Lesson:
    found = read_lesson("boat", written(head, more))
    assert found.problems == ()
    return found


class Read(HTMLParser):
    """What people read or hear of a page: texts, and the attributes that are spoken or shown."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[str] = []
        self._skipped = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in ("script", "style"):
            self._skipped = tag
        told = ("aria-label", "title", "placeholder", "alt", "data-base-name")
        self.found += [value for name, value in attrs if name in told and value]

    def handle_endtag(self, tag: str) -> None:
        if tag == self._skipped:
            self._skipped = ""

    def handle_data(self, data: str) -> None:
        if not self._skipped and data.strip():
            self.found.append(data)


def old_words(page: str) -> list[str]:
    return [each for each in Read(page).found if OLD.search(each)]


@pytest.fixture
def web(tmp_path: Path) -> Flask:
    (tmp_path / "boat.md").write_text(written(WORDS), "utf-8")
    return create_app(tmp_path)


def frames(web: Flask, of: Lesson) -> Iterator[str]:
    """Every frame of a lesson, at every depth and in every base, its questions asked."""
    template = web.jinja_env.get_template("board/frame.html")
    for depth in Depth:
        for base in BASES:
            for number, scene in enumerate(of.scenes):
                session = Session("boat", of)
                session.go_to_scene(number)
                show_with(session, depth=depth)
                show_with(session, base=base)
                for step in range(scene.run.last_step + 1):
                    session.go_to_step(step)
                    frame = make_frame(session.view())
                    yield template.render(frame=frame, still=False, code="")
                session.close()


def test_the_terms_to_look_for_are_those_of_the_table() -> None:
    """Whatever the table swaps is looked for here."""
    for usual, *others in THINGS:
        for form in (usual.name, usual.tag, usual.heading):
            if any(form not in (each.name, each.tag, each.heading) for each in others):
                assert not form or OLD.search(form) or form == "register panel", form


def test_the_board(web: Flask) -> None:
    seen = 0
    for page in frames(web, lesson(WORDS)):
        assert old_words(page) == []
        seen += 1
    assert seen > 500
    told = " ".join(Read(page).found)
    for new in ("IR", "MBR", "AC", "Arithmetic logic unit", "Processor", "Immediate access store"):
        assert re.search(rf"\b{new}\b", told), new


def test_the_usual_words_are_found_where_nothing_is_said(web: Flask) -> None:
    """The search is able to find something."""
    assert all(old_words(page) for page in frames(web, lesson("")))


def test_questions_and_their_reasons() -> None:
    scene = lesson(WORDS).scenes[0]
    assert len(scene.questions) == 5
    for each in scene.questions:
        for text in (*each.reasons, each.because):
            assert not OLD.search(text), text
    usual = lesson("").scenes[0].questions
    say = scene.wording.say
    assert [tuple(map(say, each.reasons)) for each in usual] == [
        each.reasons for each in scene.questions
    ]
    assert any(OLD.search(" ".join((*each.reasons, each.because))) for each in usual)


@pytest.mark.parametrize("depth", Depth)
def test_predictions(depth: Depth) -> None:
    scene = lesson(WORDS).scenes[0]
    asked = 0
    for step in range(scene.run.last_step):
        prediction = Prediction(scene.program, scene.run, step, depth, "denary", scene.wording)
        for each in prediction.questions:
            asked += 1
            assert not OLD.search(each.text)
            assert not any(OLD.search(choice.label) for choice in each.choices)
        most = max((len(each.choices) for each in prediction.questions), default=0) or 16
        for at in range(most):
            said = {
                each.asks.value: each.choices[min(at, len(each.choices) - 1)].value
                if each.choices
                else str(at)
                for each in prediction.questions
            }
            for answer in prediction.mark(said):
                assert not OLD.search(f"{answer.said} {answer.truth} {answer.explanation}"), answer
    assert asked > scene.run.last_step // 2


PAPER = ("worksheets", "answers", "quiz", "quiz-answers", "card", "plan")


@pytest.mark.parametrize("name", PAPER)
@pytest.mark.parametrize("rows", ["instructions", "transfers"])
def test_paper(web: Flask, name: str, rows: str) -> None:
    client = web.test_client()
    columns = "&".join(f"column={each}" for each in ("PC", "MAR", "MDR", "CIR", "ACC", "status"))
    for more in ("", f"&{columns}"):
        page = client.get(f"/paper/boat/{name}?rows={rows}{more}")
        assert page.status_code == 200
        assert old_words(page.text) == []


def test_the_list_of_paper_and_the_trace(web: Flask) -> None:
    client = web.test_client()
    assert old_words(client.get("/paper/boat").text) == []
    for rows in ("instructions", "transfers"):
        text = client.get(f"/paper/boat/trace.csv?rows={rows}").text
        assert not OLD.search(text) and "MBR" in text


def test_the_replay(web: Flask) -> None:
    page = web.test_client().get("/paper/boat/replay.html")
    assert page.status_code == 200
    assert old_words(page.text) == []


def test_the_teachers_pages_and_the_pupils(web: Flask) -> None:
    room = web.extensions["rooms"].open(web.extensions["shelf"].lesson("boat"))
    client = web.test_client()
    name = room.session.name
    for path in (f"/board/{name}", f"/board/{name}/teacher", f"/class/{room.code}"):
        page = client.get(path, follow_redirects=True)
        assert page.status_code == 200, path
        assert old_words(page.text) == [], path


def test_what_if(web: Flask) -> None:
    """What is changed is told over the board, in the words of the lesson, and a label as it is."""
    room = web.extensions["rooms"].open(web.extensions["shelf"].lesson("boat"))
    client, board = web.test_client(), f"/board/{room.session.name}"
    form = client.get(f"{board}/what-if")
    assert old_words(form.text) == [] and "memory buffer register (MBR)" in form.text
    for place in re.findall('<option value="([^"]*)">', form.text):
        value = "MORE" if place == "status" else "1"
        answer = client.post(f"{board}/suppose", data={"place": place, "value": value})
        assert answer.status_code == 204
    page = client.get(board).text
    assert "the memory buffer register holds 1" in page and "strokes holds 1" in page
    # As text, and in what is read out of it.
    assert old_words(page) == [] and not OLD.search(room.session.view().what_if.words)


def test_a_pupils_own_machine(web: Flask) -> None:
    client = web.test_client()
    page = client.get("/explore/boat/1")
    assert old_words(page.text) == []
    hidden = dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', page.text))
    assert hidden["words"].startswith("decimal, instruction register, ")
    form = hidden | {"program": "LOAD a\nADD #1\nHALT\na: 1x", "inputs": "x"}
    assert old_words(client.post("/explore/check", data=form).text) == []
    form |= {"program": "LOAD a\nADD #1\nHALT\na: 1", "inputs": ""}
    for step in range(12):
        at = form | {"step": str(step)}
        for path, more in (
            ("press", {"go": "forward"}),
            ("press", {"go": "forward", "predict": "on"}),
        ):
            assert old_words(client.post(f"/explore/{path}", data=at | more).text) == []
        assert old_words(client.post("/explore/memory", data=at).text) == []
        marked = client.post("/explore/mark", data=at | {each.value: "1" for each in Field})
        assert old_words(marked.text) == []
    assert (
        client.post("/explore/press", data=form | {"words": "zzz", "go": "here"}).status_code == 400
    )


def test_what_the_author_wrote_is_never_changed(web: Flask) -> None:
    more = (
        f"\n# {PROSE}\n\n{PROSE}\n\n```cues\nstart: {PROSE}\n```\n\n```question\n"
        f"before fetch 2: {PROSE}\nask: the accumulator\n"
        f"choices: 2 or 7 or 9 because {PROSE}\n```\n"
    )
    of = lesson(WORDS, more)
    scene = of.scenes[1]
    assert scene.title == PROSE and PROSE in scene.notes
    (asked,) = scene.questions
    assert asked.prompt == PROSE
    assert PROSE.removesuffix(".") in " ".join(asked.reasons)
    session = Session("boat", of)
    session.go_to_scene(1)
    frame = make_frame(session.view())
    assert frame.cue == PROSE and frame.view.scene.title == PROSE


def test_a_shipped_lesson_without_words_is_as_it_was(web: Flask) -> None:
    """Byte for byte: to ask for the usual words is to ask for nothing."""
    source = (resource("lessons") / "02-ferry-ticket-machine.md").read_text("utf-8")
    plain = read_lesson("ferry", source)
    usual = ", ".join(asked_as(each[0]) for each in THINGS)
    said = read_lesson("ferry", source.replace("title:", f"words: {usual}\ntitle:", 1))
    assert plain.faults == said.faults == ()
    assert plain.header.wording == said.header.wording == USUAL == wording_of({})
    assert list(frames(web, plain)) == list(frames(web, said))


def test_a_word_of_the_usual_ones_is_left_alone() -> None:
    for text in ("denary", "CIR <- MDR", "Registers", "the ACC"):
        assert USUAL.say(text) is text


def test_an_answer_that_cannot_be_read_says_nothing_of_the_old_words() -> None:
    scene = lesson(WORDS).scenes[0]
    for step in range(scene.run.last_step):
        prediction = Prediction(
            scene.program, scene.run, step, Depth.TRANSFERS, "denary", scene.wording
        )
        if prediction.questions:
            with pytest.raises(Unreadable) as told:
                prediction.mark({})
            assert not OLD.search(str(told.value))


def test_the_order_of_the_fetch_on_the_card_and_in_explore(tmp_path: Path) -> None:
    (tmp_path / "boat.md").write_text(written("counter moves: second\n"), "utf-8")
    client = create_app(tmp_path).test_client()
    card = re.sub(r"<[^>]*>|\s+", " ", client.get("/paper/boat/card").text)
    fetch = re.sub(" +", " ", card).replace(" ;", ";")
    assert "MAR ← PC; PC ← PC + 1; MDR ← memory[MAR]; CIR ← MDR" in fetch
    page = client.get("/explore/boat/1").text
    assert 'name="counter" value="second"' in page
    form = {"machine": "8-bit", "program": "HALT", "step": "1", "go": "forward"}
    assert "PC ← PC + 1" in client.post("/explore/press", data=form | {"counter": "second"}).text
    assert "MDR ← memory[MAR]" in client.post("/explore/press", data=form).text


def test_a_blank_machine_speaks_as_the_folder_does(tmp_path: Path) -> None:
    (tmp_path / "boat.md").write_text(written(""), "utf-8")
    (tmp_path / "syllabus.yaml").write_text(f"{WORDS}counter moves: second\n", "utf-8")
    client = create_app(tmp_path).test_client()
    for machine in ("8-bit", "16-bit"):
        page = client.get(f"/explore/?machine={machine}")
        assert page.status_code == 200 and old_words(page.text) == []
        assert 'name="counter" value="second"' in page.text
    # And so do its lessons.
    assert old_words(client.get("/paper/boat/card").text) == []
