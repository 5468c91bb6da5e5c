"""Whatever a file of the folder is, the other lessons are there and it gets a sentence.

The reader is tried as a whole: a folder of two good lessons and one file of any bytes and any name,
through everything that reads a lesson file. What the right sentence is the tests beside the reader
say; here it is that there is one, and that nothing fails.
"""

from __future__ import annotations

import os
import re
import shutil
import socket
import subprocess
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from functools import lru_cache
from html import unescape
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from urllib.parse import quote

import pytest
from click.testing import CliRunner, Result
from flask.testing import FlaskClient
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from app import create_app
from app.authoring import check
from app.lesson.file import reader
from app.lesson.file.reader import read_file, slug_of
from app.lesson.file.scenes import MOST_PROBLEMS
from app.lesson.file.shelf import Shelf
from app.lesson.model import Lesson
from app.printing import replay
from app.web.paper.sheets import DOCUMENTS
from tests.asking import ASKING
from tests.lesson.file.shapes import SHAPES
from tests.server import ROOT, Server
from tests.web.test_hostile import SHOWS_INSIDES, SOURCES

EXAMPLES = int(os.environ.get("CHALKCYCLE_FILES", "150"))
GOOD = {"a-good-one.md": "Ferry tickets", "z-good-one.md": "Other tickets"}
# Read again for every file that is tried, so it is a short one.
GOOD_LESSON = "---\ntitle: {}\nmachine: 8-bit\n---\n# One\n```program\nHALT\n```\n"
# More than a page of a fault needs, and less than one line repeated for each of many.
LARGEST_PAGE = 1_500_000
# What does something to a terminal, or ends its line.
CONTROLS = re.compile(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069\ud800-\udfff]")

_LINES = [line for each in SOURCES for line in each.split("\n")]
_BLOCKS = [each[0] for source in SOURCES for each in re.finditer(r"```.*?\n```\n", source, re.S)]
_HEADS = [
    "---\ntitle: A\nlimit: 30\n---\n",
    "---\ntitle: A\nmachine: 16-bit\nlimit: 30\ndepth: phases\n---\n# One\n",
    *(re.sub("(?m)^machine:", "limit: 30\nmachine:", each.split("\n# ")[0]) for each in SOURCES),
]
_ODD = [
    *('"\\UFFFFFFFF"', '"\\ud800"', '"\\ud83d\\ude00"', '"\\0"', "&a [*a]", "*a", "<<: *a", "? "),
    *("[" * 400, "{a: " * 300, "- " * 300, "> " * 50, "9" * 5000, "0x" + "f" * 3000),
    *("!!python/name:os.system", "%YAML 9\n", "title: ", "\ntitle: ", "terms:\n  ", "\n---\n"),
    *("objectives:\n  - ", "![a](b.png)", "[a]: b\n", "| a |\n|--|\n", "&#xD800;", "&#0;"),
    *("[a](%ed%a0%80)", "when x changes: ", "\x1b[2J", "\x9b31m", "\ud800", "\udcff", "\u202e"),
    *("\u2028", "\0", "\r", "\r\n", "\t", "`"),
]
PIECES = (
    st.sampled_from(_LINES).map(lambda line: f"{line}\n")
    | st.sampled_from(_BLOCKS)
    | st.sampled_from(_ODD)
    | st.text(max_size=30)
)
TEXTS = st.builds(
    lambda head, pieces: (head + "".join(pieces)).encode("utf-8", "surrogatepass"),
    st.sampled_from(_HEADS) | st.just("") | st.text(max_size=20),
    st.lists(PIECES, max_size=12),
)
# A lesson with every block that is right but for the words in it, which are any.
_WHOLE = """---
title: "{}"
age: '{}'
limit: 30
objectives:
  - "{}"
terms:
  opcode: "{}"
---
# {}

{}

{}

```program
LOAD #1 ; {}
OUTPUT
name: HALT
```
```inputs
1 ; {}
```
```cues
start: {}
first OUTPUT: {} [pause]
```
```question
before end: {}
ask: the accumulator
```
```question
before first OUTPUT: {}
ask: the output so far
choices: {} or 1 or 2
```
```speed
clock: 3 GHz
```
```task
goal: {}
gives 1
```
# {}

```scale
{}: 8 cm
{}: 3 mm
```
"""
_ONE_LINE = [each for each in _ODD if each.isprintable() and len(each) < 100 and '"' not in each]
WORDS = st.sampled_from(_ONE_LINE) | st.text(
    st.characters(exclude_categories=("Cc", "Cs"), exclude_characters="\"'\\:"),
    min_size=1,
    max_size=40,
).map(lambda words: f"a{words}b")
WHOLE = st.lists(WORDS, min_size=_WHOLE.count("{}"), max_size=_WHOLE.count("{}")).map(
    lambda words: _WHOLE.format(*words).encode("utf-8", "surrogatepass")
)
BYTES = (
    TEXTS
    | st.binary(max_size=200)
    | st.builds(
        lambda text, at, more: text[: at % (len(text) + 1)] + more + text[at % (len(text) + 1) :],
        TEXTS,
        st.integers(0, 5000),
        st.binary(max_size=20),
    )
)
_NAMES = ("bad", "caf\N{LATIN SMALL LETTER E WITH ACUTE}", "a\nb", "\x1b[31m", "..", "%2e", "a?b#c")
# The bytes of a name: any but those that part names or end them, as the system has it.
NAMES = (
    st.just(b"bad")
    | st.sampled_from([os.fsencode(each) for each in _NAMES])
    | st.binary(min_size=1, max_size=60).map(
        lambda name: name.replace(b"/", b"_").replace(b"\0", b"_")
    )
)


@pytest.fixture(scope="module", autouse=True)
def read_once() -> Iterator[None]:
    """The words of a file are read once for all that look at it (the file is opened by each): a
    dozen times over, reading would be nearly all that is done here."""
    read = reader.read_lesson
    once = lru_cache(maxsize=16)(read)

    def read_lesson(slug: str, source: str, folder: Mapping[str, Any] | None = None) -> Lesson:
        return read(slug, source, folder) if folder else once(slug, source)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(reader, "read_lesson", read_lesson)
        yield


@contextmanager
def folder_with(name: bytes, data: bytes) -> Iterator[tuple[Path, Path]]:
    """A folder of the good lessons and a file; both."""
    with TemporaryDirectory() as made:
        folder = Path(made)
        for good, title in GOOD.items():
            (folder / good).write_text(GOOD_LESSON.format(title), encoding="utf-8")
        file = folder / os.fsdecode(name + b".md")
        file.write_bytes(data)
        yield folder, file


def looked_at(folder: Path, file: Path) -> Lesson:
    """Everything that reads the file, from the shelf to what is printed of it."""
    lesson = read_file(file)
    assert lesson.faults or lesson.scenes
    assert len(lesson.problems) <= MOST_PROBLEMS + 2
    client = create_app(folder).test_client()
    listed = page(client, "/", 200)
    for title in GOOD.values():
        assert f"<h2>{title}</h2>" in listed
    if not file.name.startswith("."):
        assert lesson.slug in [each.slug for each in Shelf(folder).lessons()]
        _pages_of(client, lesson, listed)
    _commands_on(folder, file, lesson)
    return lesson


def _pages_of(client: FlaskClient, lesson: Lesson, listed: str) -> None:
    slug = quote(lesson.slug, safe="")
    assert lesson.header.title in unescape(listed)
    assert all(each.what in unescape(listed) for each in lesson.faults[:1])
    told = page(client, f"/lessons/{slug}/problems", 200)
    for each in lesson.problems[:3]:
        assert each.what in unescape(told)
    page(client, f"/lessons/{slug}/preview", 200)
    page(client, f"/lessons/{slug}/preview/now?way=forward", 200)
    for name in ("", *(f"/{each}" for each in DOCUMENTS), "/trace.csv"):
        page(client, f"/paper/{slug}{name}", *((404,) if lesson.faults else (200, 404)))
    assert client.post(f"/lessons/{slug}/teach").status_code == 303


def page(client: FlaskClient, address: str, *statuses: int) -> str:
    answer = client.get(address)
    assert answer.status_code in statuses, (address, answer.status_code)
    assert len(answer.data) < LARGEST_PAGE, address
    assert not SHOWS_INSIDES.search(answer.text)
    return answer.text


def _commands_on(folder: Path, file: Path, lesson: Lesson) -> None:
    found = invoke(check, str(folder))
    assert found.exit_code == (1 if lesson.faults and file.name[0] != "." else 0)
    found = invoke(check, "--", str(file))
    assert found.exit_code == (1 if lesson.faults else 0)
    lines = [line for line in found.output.splitlines() if "presses of the clicker" not in line]
    assert len(lines) == len(lesson.problems) + 1
    with TemporaryDirectory() as made:
        found = invoke(replay, "-o", str(Path(made, "x.html")), "--", str(file))
    assert found.exit_code == (1 if lesson.faults else 0)


def invoke(command, *arguments: str) -> Result:  # type: ignore[no-untyped-def]
    found = CliRunner(catch_exceptions=False).invoke(command, list(arguments))
    assert not CONTROLS.search(found.output), found.output
    assert max(map(len, found.output.split("\n"))) < 1000
    return found


ANYTHING = settings(
    max_examples=EXAMPLES,
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=list(HealthCheck),
)


@given(name=NAMES, data=BYTES)
@example(name=b"bad", data=b'---\ntitle: "\\UFFFFFFFF"\n---\n# One\n')
@example(name=b"bad", data=b'---\ntitle: "\\ud800"\n---\n# One\n')
@example(name=b"bad", data=b"---\ntitle: A\nage: " + b"[" * 400 + b"]" * 400 + b"\n---\n# One\n")
@example(name=b"\xff\xfe", data=ASKING.encode())
@example(name=b"a\nb\x1b[31m", data=ASKING.encode())
@example(name=b"bad", data=ASKING.encode() + b"# \x1b[2J\n```cues\n\x1b[2J: a\n```\n")
@ANYTHING
def test_any_file_beside_good_lessons(name: bytes, data: bytes) -> None:
    with folder_with(name, data) as (folder, file):
        looked_at(folder, file)


@pytest.mark.parametrize("shape", SHAPES)
def test_every_shape_that_makes_readers_slow(shape: str) -> None:
    with folder_with(b"shape", SHAPES[shape](8000).encode()) as (folder, file):
        looked_at(folder, file)


@pytest.mark.parametrize("shape", ["bad inputs on one line", "one long word", "cues"])
def test_a_file_of_the_largest_size_is_told_on_a_page_of_some_size(shape: str) -> None:
    with folder_with(b"shape", SHAPES[shape](250_000).encode()) as (folder, file):
        looked_at(folder, file)


@given(data=WHOLE)
@ANYTHING
def test_any_words_in_a_lesson(data: bytes) -> None:
    """Most of these can be taught, so that every page of them is drawn."""
    with folder_with(b"words", data) as (folder, file):
        looked_at(folder, file)


# What is in a folder and is no file.


@pytest.fixture
def odd_folder(tmp_path: Path) -> Path:
    (tmp_path / "good.md").write_text(ASKING, encoding="utf-8")
    os.mkfifo(tmp_path / "pipe.md")
    (tmp_path / "zero.md").symlink_to("/dev/zero")
    (tmp_path / "gone.md").symlink_to(tmp_path / "nowhere")
    (tmp_path / "round.md").symlink_to(tmp_path / "round.md")
    (tmp_path / "folder.md").mkdir()
    (tmp_path / ".#good.md").symlink_to("nobody@nowhere")  # what an editor leaves beside a file
    with socket.socket(socket.AF_UNIX) as listening:
        # The path of a socket may not be long.
        here = os.getcwd()
        os.chdir(tmp_path)
        try:
            listening.bind("socket.md")
        finally:
            os.chdir(here)
    return tmp_path


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such files")
def test_pipes_devices_and_links_hold_nobody_up(odd_folder: Path) -> None:
    lessons = {each.slug: each for each in Shelf(odd_folder).lessons()}
    assert set(lessons) == {"good", "pipe", "zero", "gone", "round", "socket"}
    assert lessons.pop("good").faults == ()
    assert all(len(each.faults) == 1 for each in lessons.values())
    listed = create_app(odd_folder).test_client().get("/")
    assert "Ferry tickets" in listed.text and listed.text.count("See what to mend") == 5
    # In a process of its own, which can be given up.
    done = subprocess.run(
        [sys.executable, "-m", "app", "check", str(odd_folder)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 2
    assert "pipe.md:1:1: This is no file" in done.stdout and "zero.md:1:1" in done.stdout
    assert "gone.md' cannot be opened" in done.stderr


def test_a_start_with_bad_files_serves_the_others(tmp_path: Path) -> None:
    (tmp_path / "good.md").write_text(ASKING, encoding="utf-8")
    (tmp_path / "big.md").write_text('---\ntitle: "\\UFFFFFFFF"\n---\n# A\n', encoding="utf-8")
    (tmp_path / "deep.md").write_text(f"---\ntitle: A\nage: {'[' * 400}{']' * 400}\n---\n# A\n")
    (tmp_path / os.fsdecode(b"\xff\x1b[31m\n.md")).write_text(ASKING, encoding="utf-8")
    with Server(tmp_path) as server:
        _, _, said = server.stop()
    assert said.count("big.md:2:9:") == 1 and "deep.md:3:" in said
    assert r"\udcff\x1b[31m\n.md:1:1:" in said and "Traceback" not in said
    assert not CONTROLS.search(said)


def test_names_that_no_address_can_hold_are_told_and_each_is_its_own(tmp_path: Path) -> None:
    for name in (b"a\xff", b"a\xfe", b"a\n"):
        (tmp_path / os.fsdecode(name + b".md")).write_text(ASKING, encoding="utf-8")
    slugs = [slug_of(each) for each in tmp_path.iterdir()]
    assert len(set(slugs)) == 3 and all(each.isascii() and each.isprintable() for each in slugs)
    client = create_app(tmp_path).test_client()
    headings = set()
    for slug in slugs:
        told = page(client, f"/lessons/{slug}/problems", 200)
        assert "another name" in told
        headings |= set(re.findall("<h1>What to mend in (.*)</h1>", told))
    # By the names that the files have, as far as they can be shown.
    assert headings == {r"a\udcff.md", r"a\udcfe.md", r"a\n.md"}
    shutil.rmtree(tmp_path)
    assert client.get("/").status_code == 200


def test_a_warm_up_has_no_file_to_be_named(tmp_path: Path) -> None:
    (tmp_path / "x.md").write_text(ASKING, encoding="utf-8")
    client = create_app(tmp_path).test_client()
    assert "<h1>x.md</h1>" in page(client, "/lessons/x/preview", 200)
    told = page(client, "/lessons/x~warm-up~3/problems", 200)
    assert "<h1>What to mend in Warm-up: " in told and ".md" not in told


SIGNS = ("\u200b", "\ufeff\ufeff", "\x01", "\u202e", "\uffff")
PLACES = (
    "{}---\ntitle: A\n---\n# S\n```program\nHALT\n```\n",
    "---\ntitle: {}A\n---{}\n# S\n```program\nHALT\n```\n",
    "---\ntitle: A\n---\n{}# S\n{}```program\nHALT\n{}```\n\n{}# T\n```{}cues\nstart: A\n```\n",
)


@pytest.mark.parametrize("text", PLACES)
@pytest.mark.parametrize("sign", SIGNS)
def test_signs_that_nobody_sees_take_no_page_away(tmp_path: Path, sign: str, text: str) -> None:
    (tmp_path / "x.md").write_text(text.replace("{}", sign), "utf-8")
    client = create_app(tmp_path, own=tmp_path).test_client()
    pages = ("/", "/lessons/x/problems", "/lessons/x/write", "/lessons/x/preview")
    assert {client.get(each).status_code for each in pages} == {200}
    told = unescape(page(client, "/lessons/x/problems", 200))
    assert f"(U+{ord(sign[0]):04X})" in told
    assert client.post("/lessons/x/copy").status_code == 303


@pytest.mark.parametrize("file", ["x.md", "syllabus.yaml"])
@pytest.mark.parametrize("value", [r'"\ud800"', r'"\ud83d\ude00"', r'"a\udfffb"'])
@pytest.mark.parametrize(
    "line", ["words: {}", "with: {}", "count: {}", "counter moves: {}", "{}: a"]
)
def test_half_a_character_is_told_wherever_it_stands(
    tmp_path: Path, file: str, value: str, line: str
) -> None:
    """The sentence of a fault quotes what it found, and no page can hold half a character."""
    header = line.format(value)
    own = f"title: A\n{header}" if file == "x.md" else "title: A"
    (tmp_path / "x.md").write_text(f"---\n{own}\n---\n# S\n```program\nHALT\n```\n", "utf-8")
    if file != "x.md":
        (tmp_path / file).write_text(f"{header}\n", "utf-8")
    client = create_app(tmp_path).test_client()
    pages = ("/", "/lessons/x/problems", "/lessons/x/write", "/lessons/x/preview")
    assert {client.get(each).status_code for each in pages} <= {200, 303, 404}
