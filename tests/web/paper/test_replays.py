"""All replays as a folder, from the page and from the command."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from html import unescape
from pathlib import Path
from typing import Any, cast
from urllib.parse import unquote

import pytest
from click.testing import CliRunner
from jinja2 import Environment

from app import create_app
from app.lesson.file import failures
from app.lesson.file.reader import read_lesson
from app.lesson.file.shelf import Shelf
from app.lesson.model import Lesson
from app.printing import replay
from app.web.paper import replay as replay_module
from app.web.paper.replay import Replay
from app.web.paper.replays import pages
from app.web.paper.sheets import _pages
from app.web.workers import Answered, Asked, Workers
from tests.conftest import BROKEN, SHORT

# Names of which some system cannot have one, and two that are the same to others.
NAMES = ("01-one", "what? a:b*c", "Tür-λ", "same", "Same", "index", "con", "Com1.x")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("lessons")
    for name in NAMES:
        text = SHORT.replace("A short sum", f"Lesson {name}")
        (folder / f"{name}.md").write_text(text.replace("Lesson what? a:b", "Lesson what"), "utf-8")
    (folder / "broken.md").write_text(BROKEN, "utf-8")
    return folder


def test_the_start_page_can_be_dark(tmp_path: Path) -> None:
    """Without a script the colours go by what the system prefers."""
    web = create_app(tmp_path)
    start = next(pages([], web.jinja_env))
    style = start.html.split("<style>")[1].split("</style>")[0]
    dark = style.split("(prefers-color-scheme: dark)")[1]
    assert "--paper: #12161c" in dark and "data-theme" not in start.html.split("<style>")[0]


def test_the_folder_is_whole(folder: Path) -> None:
    answer = create_app(folder).test_client().get("/paper/all/replays.zip")
    assert answer.mimetype == "application/zip"
    assert answer.headers["Content-Disposition"] == "attachment; filename=replays.zip"
    with zipfile.ZipFile(io.BytesIO(answer.data)) as archive:
        assert archive.testzip() is None
        files = {each: archive.read(each).decode() for each in archive.namelist()}
    # One folder, and in it what its start page leads to.
    assert all(re.fullmatch(r"replays/[\w.-]+", each) for each in files)
    start = files["replays/index.html"]
    links = [unquote(unescape(each)) for each in re.findall(r'<a href="([^"]+)"', start)]
    assert {f"replays/{each}" for each in links} == {*files} - {"replays/index.html"}
    assert len({each.casefold() for each in files}) == len(NAMES) + 1
    assert {"replays/lesson-con.html", "replays/lesson-Com1.x.html"} <= {*files}
    for name in NAMES:
        assert start.count(f">Lesson {name.replace('? a:b', '')}<") == 1
    assert "A lesson with a fault" not in start
    # No address but those names is in it, and nothing may be fetched.
    assert "default-src 'none'" in start and not re.search(r'(?:src|href)="(?:/|http)', start)


def test_one_that_fails_costs_nothing_but_its_own_place(
    folder: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    plain = replay_module._record

    def record(lesson: Lesson, *more: Any) -> Any:
        return 1 // 0 if lesson.slug == "same" else plain(lesson, *more)

    monkeypatch.setattr(replay_module, "_record", record)
    data = create_app(folder).test_client().get("/paper/all/replays.zip").data
    printed = capsys.readouterr().err
    assert printed.count("Traceback") == 1 and "Making the replay of 'same' failed." in printed
    failures.told.clear()
    done = CliRunner().invoke(replay, [str(folder), "-o", str(tmp_path)])
    assert done.exit_code == 1 and "1 replay could not be made." in done.output
    assert "ZeroDivisionError" in done.stderr and done.output.count("Written: ") == len(NAMES)
    failures.told.clear()
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        texts = {each: archive.read(each).decode() for each in archive.namelist()}
    assert len(texts) == len(NAMES) + 1
    (failed,) = (text for text in texts.values() if "cannot be played" in text)
    assert "<h1>Lesson same</h1>" in failed and 'href="index.html"' in failed
    for name, text in texts.items():
        assert (tmp_path / name.removeprefix("replays/")).read_text("utf-8") == text


class OneFails:
    """Workers of which one answers as where a page of ours fails."""

    @contextmanager
    def aside(self) -> Iterator[OneFails]:
        yield self

    def answer(self, asked: Asked, seconds: float) -> Answered:
        return Answered(500 if "/same/" in asked.path else 200, [], b"made", 0)


def test_where_a_worker_fails_at_one_the_server_does_not_try_it_itself(folder: Path) -> None:
    web = create_app(folder)
    made = _pages(cast(Workers, OneFails()), Shelf(folder).lessons(), web.jinja_env)
    _start, *rest = made
    (failed,) = (each for each in rest if each.failed)
    assert "<h1>Lesson same</h1>" in failed.html and failed.replay is None
    assert [each.html for each in rest if each is not failed] == ["made"] * (len(NAMES) - 1)


def test_a_number_that_is_added_to_a_name_is_not_taken_either(tmp_path: Path) -> None:
    slugs = ("a b", "a-b-3", "a-b", "A b", "a-b-6", "A-B")
    read = [read_lesson(each, SHORT.replace("A short sum", each)) for each in slugs]
    made = [*pages(read, create_app(tmp_path).jinja_env, lambda lesson, _: Replay(lesson.slug, ()))]
    names = [each.name for each in made[1:]]
    assert names[:3] == ["a-b.html", "a-b-3.html", "a-b-4.html"]
    assert len({each.casefold() for each in names}) == len(slugs)
    links = [unquote(each) for each in re.findall(r'<a href="([^"]+)"', made[0].html)]
    assert links == names and [each.html for each in made[1:]] == [*slugs]


def test_each_is_the_replay_of_its_lesson(folder: Path) -> None:
    client = create_app(folder).test_client()
    with zipfile.ZipFile(io.BytesIO(client.get("/paper/all/replays.zip").data)) as archive:
        for name in ("01-one", "Tür-λ"):
            alone = client.get(f"/paper/{name}/replay.html").text
            assert archive.read(f"replays/{name}.html").decode() == alone


def test_the_command_writes_the_same(folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    done = CliRunner().invoke(replay, [str(folder), "-o", str(out)])
    assert done.exit_code == 0 and "Left out: broken" in done.output
    data = create_app(folder).test_client().get("/paper/all/replays.zip").data
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        for each in archive.namelist():
            assert (out / each.removeprefix("replays/")).read_bytes() == archive.read(each)
    assert len([*out.iterdir()]) == len(NAMES) + 1


def test_a_folder_without_a_lesson(tmp_path: Path) -> None:
    done = CliRunner().invoke(replay, [str(tmp_path)])
    assert done.exit_code == 1 and "no lesson" in done.output
    page = create_app(tmp_path).test_client().get("/").text
    assert "all replays" not in page


def test_a_page_that_is_too_large_whatever_is_left_out_is_tried_a_few_times(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each try worked out the questions of all scenes anew: minutes, for notes that alone are
    larger than a file may be."""
    made: list[int] = []
    page = replay_module._page

    def counted(lesson: Lesson, environment: Environment, scenes: Any, *more: Any) -> str:
        made.append(more[-1])
        for each in scenes:
            each.scene.let_go()
        html = page(lesson, environment, scenes, *more)
        assert all("run" not in vars(each.scene) for each in scenes)
        return html

    monkeypatch.setattr(replay_module, "_page", counted)
    monkeypatch.setattr(replay_module, "LARGEST_FILE", 1000)
    question = "```question\nbefore first INPUT: What?\nask: the accumulator\n```\n"
    lesson = read_lesson("short", SHORT + question)
    assert lesson.scenes[-1].questions
    cut = replay_module.replay_page(lesson, create_app(tmp_path).jinja_env).cut
    assert made[-1] == 1 and len(made) <= 9
    assert {each.kept for each in cut} == {1}


def test_what_frames_have_in_common_is_kept_once(tmp_path: Path) -> None:
    """Three thousand frames as they are took 600 MB, where a title had a sign of four bytes."""
    lines = replay_module._Lines()
    lesson = read_lesson("short", SHORT)
    scenes = replay_module._record(lesson, create_app(tmp_path).jinja_env, lines)
    texts = [lines.text(frame) for each in scenes for frame in each.frames]
    assert len(texts) == len({*texts}) > 20 and "Two coins lie on the table." in texts[0]
    kept = {line for each in texts for line in each.split("\n")}
    all_lines = lines.all()
    kept |= {
        all_lines[number]
        for each in scenes
        for inside in each.inside
        for part in inside.values()
        for number in part.get("html", ())
    }
    assert sorted(kept) == sorted(all_lines)
    assert sum(map(len, kept)) < sum(map(len, texts)) / 4


def test_scenes_that_are_too_much_at_once_are_left_out_and_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Sixty scenes that compare four pipelines took a minute."""
    monkeypatch.setattr("app.lesson.at_once.FOLLOWED_IN_ALL", 20)
    lesson = read_lesson("short", SHORT)
    environment = create_app(tmp_path).jinja_env
    made = replay_module.replay_page(lesson, environment)
    assert [(each.title, each.kept) for each in made.cut] == [("Once more", 0)]
    assert "Two coins" in made.html and "Once more" not in made.html
    (tmp_path / "short.md").write_text(SHORT, "utf-8")
    told = (
        CliRunner()
        .invoke(replay, [str(tmp_path / "short.md"), "-o", str(tmp_path / "out.html")])
        .stderr
    )
    assert "The scene 'Once more' is not in it" in told


@pytest.mark.parametrize("name", ["short.md", "other.md", "SHORT.MD"])
def test_no_lesson_is_written_over_by_a_replay(tmp_path: Path, name: str) -> None:
    (tmp_path / "short.md").write_text(SHORT, "utf-8")
    done = CliRunner().invoke(replay, [str(tmp_path / "short.md"), "-o", str(tmp_path / name)])
    assert done.exit_code == 1 and "is the name of a lesson" in done.stderr
    assert [each.name for each in tmp_path.iterdir()] == ["short.md"]
    assert (tmp_path / "short.md").read_text("utf-8") == SHORT
