"""The pages made for paper, the files beside them, and the commands that write them."""

from __future__ import annotations

import csv
import io
import os
import re
import sys
import tempfile
from html.parser import HTMLParser
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from flask.testing import FlaskClient

from app import create_app
from app.lesson.file.reader import read_lesson
from app.lesson.model import Scene
from app.lesson.paper import versions
from app.lesson.paper.versions import make_versions
from app.machine.engine import walk
from app.printing import print_lesson, replay
from app.web.paper.sheets import DOCUMENTS
from tests.lesson.model import model_of
from tests.web.paper.paper_lesson import ASKING

PAPER = "/paper/gate"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("paper")
    (made / "gate.md").write_text(ASKING, "utf-8")
    (made / "broken.md").write_text(ASKING.replace("HALT", "HLAT"), "utf-8")
    (made / "quiet.md").write_text("---\ntitle: Quiet\n---\n# Words\n\nOnly words.\n", "utf-8")
    return made


@pytest.fixture
def client(folder: Path) -> FlaskClient:
    return create_app(folder).test_client()


class Tables(HTMLParser):
    """The tables of a page with the class ``trace``: rows of cells as text."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tables: list[list[list[str]]] = []
        self._inside = self._in_cell = False
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "table" and "trace" in (dict(attrs).get("class") or "").split():
            self.tables.append([])
            self._inside = True
        elif self._inside and tag == "tr":
            self.tables[-1].append([])
        elif self._inside and tag in ("td", "th"):
            self.tables[-1][-1].append("")
            self._in_cell = True

    def handle_endtag(self, tag: str) -> None:
        if tag == "table":
            self._inside = False
        elif tag in ("td", "th"):
            self._in_cell = False

    def handle_data(self, data: str) -> None:
        if self._inside and self._in_cell:
            self.tables[-1][-1][-1] = f"{self.tables[-1][-1][-1]} {data}".strip()


@pytest.mark.parametrize("name", DOCUMENTS)
def test_every_document_is_a_page(client: FlaskClient, name: str) -> None:
    for size in ("a4", "letter"):
        page = client.get(f"{PAPER}/{name}?size={size}")
        assert page.status_code == 200
        assert f"css/paper/{size}.css" in page.text
        assert page.text.count("<h1") >= 1
        # The policy of every page: nothing is written into it as style or script.
        assert "<style" not in page.text and " style=" not in page.text
        assert not re.search(r"<script(?![^>]* src=)", page.text)
        ids = re.findall(r'\bid="([^"]*)"', page.text)
        assert len(ids) == len(set(ids)), "an id stands twice"


def test_the_overview_leads_to_everything(client: FlaskClient) -> None:
    page = client.get(PAPER).text
    for name in DOCUMENTS:
        assert f"{PAPER}/{name}" in page
    for address in re.findall(rf'href="({PAPER}/[^"]+)"', page):
        assert client.get(address.replace("&amp;", "&")).status_code == 200, address
    assert f'href="{PAPER}"' in client.get("/").text


def test_the_overview_works_nothing_out_to_count_questions(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A lesson of sixty scenes that compare machines took seconds for a list of links."""
    (tmp_path / "asking.md").write_text(ASKING, "utf-8")
    client = create_app(tmp_path).test_client()
    told = re.compile(r"with the lesson's (\d+) question")
    before = told.search(client.get("/paper/asking").text)
    assert before and int(before[1]) == ASKING.count("```question")

    def nothing(scene: Scene) -> tuple[()]:
        raise AssertionError("the answers are worked out")

    monkeypatch.setattr(Scene, "questions", property(nothing))
    assert told.search(client.get("/paper/asking").text)


def test_one_version_takes_no_run_to_compare_others_with(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It was a quarter of what the sheets of a long lesson took."""
    walked = []
    monkeypatch.setattr(versions, "walk", lambda *given: walked.append(1) or walk(*given))
    for asked, compared in (("", False), ("?versions=2", True)):
        assert client.get(f"{PAPER}/worksheets{asked}").status_code == 200
        assert bool(walked) == compared


def test_answers_are_those_of_another_interpreter(client: FlaskClient) -> None:
    scene = read_lesson("gate", ASKING).scenes[2]
    page = client.get(f"{PAPER}/answers?scene=3&versions=3&seed=x").text
    tables = Tables(page).tables
    versions = make_versions(scene, 3, "x")
    assert len(tables) == len(versions) == 3
    for table, version in zip(tables, versions, strict=True):
        many = version.scene.program.words[6]
        model = model_of(scene.program.source.replace("many:   5", f"many: {many}"), []).run()
        _title, heads, _start, *rows = table
        assert heads == ["No.", "Instruction", "PC", "ACC", "status", "output"]
        assert [row[2:] for row in rows] == [
            [str(each.pc), str(each.acc), each.status, each.output] for each in model
        ]


@pytest.mark.parametrize("level", [1, 2, 3])
def test_a_worksheet_is_its_answers_with_blanks(client: FlaskClient, level: int) -> None:
    query = f"?scene=2&versions=2&level={level}"
    sheets = Tables(client.get(f"{PAPER}/worksheets{query}").text).tables
    answers = Tables(client.get(f"{PAPER}/answers{query}").text).tables
    blanks = 0
    assert len(sheets) == len(answers) == 2
    for sheet, answer in zip(sheets, answers, strict=True):
        for blank_row, full_row in zip(sheet[1:], answer[1:], strict=True):
            for blank, full in zip(blank_row, full_row, strict=True):
                assert blank in ("", full)
                blanks += blank != full
    assert blanks > 10 * level


TWICE = (
    ASKING
    + """
```question
before first SUBTRACT: What will the accumulator hold?
ask: the accumulator
```

```question
before first COMPARE: And now?
ask: the accumulator
```
"""
)


def test_the_quiz_does_not_answer_itself(tmp_path: Path) -> None:
    (tmp_path / "twice.md").write_text(TWICE, "utf-8")
    client = create_app(tmp_path).test_client()
    quiz = client.get("/paper/twice/quiz").text
    # One question is before these two on the sheet.
    assert '<td class="told">answer 2</td>' in quiz
    # The teacher's has the value itself. (The other 4 is in the program counter.)
    answers = client.get("/paper/twice/quiz-answers").text
    assert [each.split("<b>3</b>")[1].count("<td>4</td>") for each in (quiz, answers)] == [1, 2]
    assert "Where a table says" not in client.get("/paper/twice/quiz?scene=2").text


TASK = """---
title: Tides
machine: 8-bit
---
# Your turn

**Homework.** A bridge carries 15 people (not more). How many is that in pairs? (Seven and one.)

```program
INPUT
OUTPUT
HALT
```

```inputs
3
```

```task
goal: Output the number, whatever it is.
inputs -3 gives -3
inputs 5 gives 5
```
"""


def test_the_plan_and_the_replay_have_the_task(tmp_path: Path) -> None:
    (tmp_path / "tides.md").write_text(TASK, "utf-8")
    client = create_app(tmp_path).test_client()
    plan = re.sub(r"<[^>]+>", " ", client.get("/paper/tides/plan").text)
    assert "inputs \N{MINUS SIGN}3 give \N{MINUS SIGN}3" in plan and "inputs 5 give 5" in plan
    about = client.get("/paper/tides/replay.html").text.split('<dialog id="about"')[1]
    assert "Output the number, whatever it is." in about
    sheets = client.get("/paper/tides/worksheets").text
    assert "<b>Your task:</b> Output the number, whatever it is." in sheets
    assert "How many is that in pairs?" in about and "not more" not in about
    # That is for the teacher.
    assert "Seven and one" not in about and "Seven and one" in plan


def test_columns_rows_and_base_can_be_chosen(client: FlaskClient) -> None:
    page = client.get(
        f"{PAPER}/answers?scene=3&rows=transfers&base=binary&column=MAR&column=ACC&column=memory"
    )
    (table,) = Tables(page.text).tables
    assert table[1] == ["Step", "Transfer", "MAR", "ACC"]
    assert table[3][1:] == ["MAR ← PC", "0000", "0000 0000"]


def test_the_other_size_is_the_same_with_whatever_else_was_asked_for(client: FlaskClient) -> None:
    said = "column=ACC&column=MAR&slug=x&endpoint=y&_scheme=z&a=%26&size="
    page = client.get(f"{PAPER}/worksheets?{said}a4").text
    assert f'href="?{said}letter"'.replace("&", "&amp;") in page


@pytest.mark.parametrize(
    ("address", "status"),
    [
        ("/paper/nothing", 404),
        ("/paper/broken", 404),
        ("/paper/broken/plan", 404),
        ("/paper/quiet/trace.csv", 404),
        (f"{PAPER}/nothing", 404),
        (f"{PAPER}/worksheets?scene=9", 404),
        (f"{PAPER}/worksheets?scene=x", 404),
        (f"{PAPER}/worksheets?level=4", 400),
        (f"{PAPER}/worksheets?level=%F0%9F%99%82", 400),
        (f"{PAPER}/worksheets?versions=99", 400),
        (f"{PAPER}/worksheets?versions=-1", 400),
        (f"{PAPER}/worksheets?column=ALU", 400),
        (f"{PAPER}/worksheets?rows=cycles", 400),
        (f"{PAPER}/worksheets?base=octal", 400),
        (f"{PAPER}/plan?size=a3", 400),
    ],
)
def test_what_is_not_there_is_refused(client: FlaskClient, address: str, status: int) -> None:
    assert client.get(address).status_code == status


def test_a_lesson_of_words_alone_has_a_plan_and_says_what_it_has_not(client: FlaskClient) -> None:
    assert "Only words." in client.get("/paper/quiet/plan").text
    assert "no trace to write" in client.get("/paper/quiet/worksheets").text
    assert "no questions" in client.get("/paper/quiet/quiz").text
    page = client.get("/paper/quiet").text
    assert "/quiz" not in page and "/worksheets" not in page


def test_of_a_lesson_with_too_long_runs_the_first_scenes_are_worked_out_at_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Sixty scenes that never stop, or that compare machines, took twenty seconds for one sheet."""
    monkeypatch.setattr("app.lesson.at_once.FOLLOWED_IN_ALL", 100)
    scene = (
        "```program\nagain: ADD #1\nJUMP again\n```\n"
        "```question\nbefore end: W\nask: the accumulator\n```\n"
    )
    text = "---\ntitle: Long\nlimit: 40\n---\n" + "".join(f"# S{at}\n{scene}" for at in range(4))
    (tmp_path / "long.md").write_text(text, "utf-8")
    client = create_app(tmp_path).test_client()
    for name in ("plan", "worksheets", "answers", "quiz", "quiz-answers", "sums"):
        page = client.get(f"/paper/long/{name}").text
        assert "Scene 2 and those after it are left out" in page and "?scene=2" in page, name
        # Each has a sheet by itself.
        alone = client.get(f"/paper/long/{name}?scene=3").text
        assert "S2" in alone and "left out" not in alone, name
    table = client.get("/paper/long/quiz.csv").text
    assert "1. S0" in table and "2. S1" not in table and "Scene 2 and those after it" in table
    assert client.get("/paper/long/qti.zip").status_code == 413
    # What leads to them names all.
    assert "4. S3" in client.get("/paper/long").text


def test_a_long_program_is_not_printed_for_ever(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A page of 118 MB: sixty scenes may keep a program of sixty thousand letters."""
    program = "LOAD #7 ; seven\nOUTPUT\nHALT"
    text = f"---\ntitle: Kept\n---\n# S0\n```program\n{program}\n```\n"
    text += "".join(f"# S{at}\nWords.\n" for at in range(1, 9))
    (tmp_path / "kept.md").write_text(text, "utf-8")
    monkeypatch.setattr("app.web.paper.sheets._OF_A_SHEET", 100)
    monkeypatch.setattr("app.web.paper.sheets._MOST_LETTERS", 4 * (100 + len(program)))
    client = create_app(tmp_path).test_client()
    one, two, alone = (
        client.get(f"/paper/kept/worksheets?{asked}").text
        for asked in ("versions=1", "versions=2", "scene=9&versions=6")
    )
    assert [page.count('<section class="sheet') for page in (one, two, alone)] == [4, 4, 6]
    assert "Scene 5 and those after it" in one and "Scene 3 and those after it" in two
    assert "left out" not in alone


@pytest.mark.parametrize(
    ("bound", "most", "drawn"), [("_MOST_PICTURES", 2, 2), ("_MOST_DRAWN", 20_000, 2)]
)
def test_the_plan_of_very_many_cues_has_the_words_of_all(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch, bound: str, most: int, drawn: int
) -> None:
    """A page of 77 MB, which took two minutes; and one of 88, whose pictures were few and large."""
    whole = client.get(f"{PAPER}/plan").text
    monkeypatch.setattr(f"app.web.paper.sheets.{bound}", most)
    page = client.get(f"{PAPER}/plan").text
    assert whole.count("board-picture") > drawn == page.count("board-picture")
    said = re.compile(r'<p class="said-then">(.*?)</p>')
    assert said.findall(page) == said.findall(whole)


def test_the_plan_has_what_the_file_says(client: FlaskClient) -> None:
    page = client.get(f"{PAPER}/plan").text
    for words in (
        "50 minutes",
        "ages 12 to 14",
        "say what a comparison leaves in the status",
        "what the last comparison found",
        "<em>second</em>",
        "COMPARE first",
        "80 µm",
        "Two numbers decide about the gate.",
        "What will the status be?",
    ):
        assert words in page, words
    # Two stations of the zoom, and five cues.
    assert page.count('class="board-picture"') == 2 + 5
    minutes = [int(each) for each in re.findall(r'class="minutes">about (\d+) min', page)]
    assert len(minutes) == 3 and sum(minutes) == 50


def test_pictures_of_the_plan_show_the_run(client: FlaskClient) -> None:
    page = client.get(f"{PAPER}/plan?scene=2").text
    stored = page.split('aria-label="The board: The first number waits in memory."')[1]
    row = stored.split('data-address="11"')[1].split("</div>")[0]
    assert re.findall(r'class="now">([^<]*)', row)[-1] == "4"


def test_csv_opens_in_a_spreadsheet(client: FlaskClient) -> None:
    answer = client.get(f"{PAPER}/trace.csv?scene=2")
    assert answer.mimetype == "text/csv"
    assert "filename=gate-scene-2-trace.csv" in answer.headers["Content-Disposition"]
    read = list(csv.DictReader(io.StringIO(answer.data.decode("utf-8-sig"), newline="")))
    model = model_of(read_lesson("gate", ASKING).scenes[1].program.source, [4, 7]).run()
    assert [(int(each["PC"]), int(each["ACC"]), int(each["first"])) for each in read] == [
        (row.pc, row.acc, row.memory[11]) for row in model
    ]
    # The first scene that runs, where none is named.
    assert client.get(f"{PAPER}/trace.csv").data == answer.data


def test_paper_belongs_to_the_teacher(folder: Path) -> None:
    pupil = create_app(folder, teacher_key="secret").test_client()
    for name in ("", *(f"/{each}" for each in DOCUMENTS), "/trace.csv", "/replay.html"):
        assert pupil.get(f"{PAPER}{name}").status_code == 403


def test_the_replay_can_be_taken_away(client: FlaskClient) -> None:
    answer = client.get(f"{PAPER}/replay.html")
    assert answer.status_code == 200
    assert "attachment" in answer.headers["Content-Disposition"]
    assert len(answer.data) < 500_000
    again = client.get(f"{PAPER}/replay.html")
    assert answer.data == again.data, "the same lesson gives the same file"


# The commands.


def test_replay_writes_a_file(folder: Path, tmp_path: Path) -> None:
    file = tmp_path / "gate.html"
    done = CliRunner().invoke(replay, [str(folder / "gate.md"), "-o", str(file)])
    assert done.exit_code == 0, done.output
    assert f"Written: {file}" in done.output
    assert file.read_text("utf-8").startswith("<!doctype html>")


@pytest.mark.parametrize("command", [replay, print_lesson])
def test_commands_say_what_is_wrong(command, folder: Path, tmp_path: Path) -> None:
    done = CliRunner().invoke(command, [str(folder / "broken.md"), "-o", str(tmp_path / "x")])
    assert done.exit_code == 1
    assert "broken.md:" in done.output and "has faults" in done.output
    missing = CliRunner().invoke(command, [str(folder / "none.md")])
    assert missing.exit_code == 2 and "does not exist" in missing.output
    (tmp_path / "notes.txt").write_text("", "utf-8")
    other = CliRunner().invoke(command, [str(tmp_path / "notes.txt")])
    assert other.exit_code == 1 and "must end in '.md'" in other.output


def test_print_says_where_there_is_nothing_to_print(folder: Path, tmp_path: Path) -> None:
    lesson = str(folder / "quiet.md")
    for name, what in (("quiz", "questions"), ("worksheets", "program")):
        done = CliRunner().invoke(print_lesson, [lesson, "--only", name, "-o", str(tmp_path)])
        assert done.exit_code == 1 and f"has no {what}" in done.output
    done = CliRunner().invoke(print_lesson, [lesson, "--scene", "2", "-o", str(tmp_path)])
    assert done.exit_code == 1 and "none is 2" in done.output


def test_print_without_a_browser_says_what_to_do(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("app.printing.find_browser", lambda: None)
    done = CliRunner().invoke(print_lesson, [str(folder / "gate.md"), "-o", str(tmp_path)])
    assert done.exit_code == 1
    assert "print from there" in done.output


# Browsers that are not as they should be, each as a program that does with its arguments what such
# a one does.
_BROWSER = """#!{python}
import pathlib, sys, tempfile
made = next(each for each in sys.argv if each.startswith("--print-to-pdf="))
made = pathlib.Path(made.split("=", 1)[1])
hidden = pathlib.Path(tempfile.gettempdir()).resolve() in made.resolve().parents
{does}
"""


def browser(folder: Path, does: str) -> str:
    program = folder / "browser"
    program.write_text(_BROWSER.format(python=sys.executable, does=does), "utf-8")
    program.chmod(0o755)
    return str(program)


@pytest.fixture
def seen(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """A folder that is not in the system's one for temporary files (which is another here)."""
    (tmp_path / "temporary").mkdir()
    (tmp_path / "own").mkdir()
    monkeypatch.setenv("TMPDIR", str(tmp_path / "temporary"))
    monkeypatch.setattr(tempfile, "tempdir", None)
    return tmp_path / "own"


def printed(monkeypatch: pytest.MonkeyPatch, program: str, lesson: Path, out: Path) -> Result:
    monkeypatch.setattr("app.printing.find_browser", lambda: program)
    names = ["--only", "card", "--only", "plan"]
    return CliRunner().invoke(print_lesson, [str(lesson), *names, "-o", str(out)])


@pytest.mark.skipif(os.name == "nt", reason="a script is no program there")
def test_a_browser_with_a_temporary_folder_of_its_own(
    folder: Path, seen: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    program = browser(seen, "if not hidden: made.write_bytes(b'%PDF-1.4 one')")
    done = printed(monkeypatch, program, folder / "gate.md", seen / "paper")
    assert done.exit_code == 0, done.output
    # Nothing is left beside what was asked for.
    assert sorted(each.name for each in (seen / "paper").iterdir()) == [
        "gate-card.pdf",
        "gate-plan.pdf",
    ]
    assert (seen / "paper" / "gate-plan.pdf").read_bytes() == b"%PDF-1.4 one"


@pytest.mark.skipif(os.name == "nt", reason="a script is no program there")
@pytest.mark.parametrize(
    ("does", "said"),
    [
        ("", "wrote no PDF where it was told to"),
        ("made.write_bytes(b'')", "wrote no PDF"),
        ("made.mkdir()", "wrote no PDF"),
        ("sys.exit('no \\x1b[31mdisplay')", r"no \x1b[31mdisplay"),
        ("sys.exit('x' * 100_000)", "xxx"),
        ("sys.exit(3)", "it did not say why"),
    ],
)
def test_a_browser_that_prints_nothing(
    folder: Path, seen: Path, monkeypatch: pytest.MonkeyPatch, does: str, said: str
) -> None:
    program = browser(seen, does)
    done = printed(monkeypatch, program, folder / "gate.md", seen / "paper")
    assert done.exit_code == 1
    assert said in done.output and "print from there" in done.output
    assert len(done.output) < 1000 and "\x1b" not in done.output
    assert list((seen / "paper").iterdir()) == []


@pytest.mark.skipif(os.name == "nt", reason="a script is no program there")
@pytest.mark.parametrize("kind", ["no program", "a folder", "not there", "of another machine"])
def test_a_browser_that_cannot_be_run(
    folder: Path, seen: Path, monkeypatch: pytest.MonkeyPatch, kind: str
) -> None:
    program = seen / "browser"
    if kind == "a folder":
        program.mkdir()
    elif kind != "not there":
        program.write_bytes(b"\x7fELF nothing")
        program.chmod(0o644 if kind == "no program" else 0o755)
    done = printed(monkeypatch, str(program), folder / "gate.md", seen / "paper")
    assert done.exit_code == 1
    assert "cannot be run" in done.output and "print from there" in done.output
