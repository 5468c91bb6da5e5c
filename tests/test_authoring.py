"""The commands for whoever writes lessons: ``check`` and ``new``, as they are typed."""

from __future__ import annotations

import errno
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any
from unittest.mock import Mock

import pytest
from click.testing import CliRunner, Result

from app.authoring import check, new
from app.lesson.blocks.task import check_task
from app.lesson.file.reader import read_file
from app.lesson.file.scenes import BLOCKS
from app.machine.run import Run
from app.machine.source.problems import printable
from tests.server import ROOT

GOOD = "---\ntitle: Good\n---\n# One\n```program\nHALT\n```\n"
WARNED = "---\ntitle: Warned\n---\n# One\n```program\nHALT\n```\n```cues\nADD: never\n```\n"
BROKEN = "---\ntitle: Broken\n---\n# One\n```program\nLAOD 3\nHALT\n```\n"


@pytest.fixture
def shelf(tmp_path: Path) -> Path:
    for name, text in {"good": GOOD, "warned": WARNED, "broken": BROKEN}.items():
        (tmp_path / f"{name}.md").write_text(text, "utf-8")
    return tmp_path


def run(command, *arguments: str | Path) -> Result:
    return CliRunner().invoke(command, [str(each) for each in arguments])


def test_clean(shelf: Path) -> None:
    found = run(check, shelf / "good.md")
    assert found.exit_code == 0
    assert found.stdout.splitlines() == [
        f"{shelf / 'good.md'}: presses of the clicker in each scene: 6.",
        "1 lesson checked: 0 faults, 0 warnings.",
    ]


def test_warnings_count_only_when_strict(shelf: Path) -> None:
    file = shelf / "warned.md"
    found = run(check, file)
    assert found.exit_code == 0
    assert found.stdout.startswith(f"{file}:9:1: warning: The run of 'One' never comes to 'ADD'")
    assert found.stdout.endswith("1 lesson checked: 0 faults, 1 warning.\n")
    assert run(check, "--strict", file).exit_code == 1
    assert run(check, "--strict", shelf / "good.md").exit_code == 0


def test_a_folder_with_a_fault(shelf: Path) -> None:
    found = run(check, shelf)
    assert found.exit_code == 1
    first, *_ = found.stdout.splitlines()
    assert first.startswith(f"{shelf / 'broken.md'}:6:1: There is no instruction called 'LAOD'.")
    assert first.endswith("Did you mean LOAD?")
    assert "3 lessons checked: 1 fault, 1 warning." in found.stdout
    # The form of compilers, which editors turn into links.
    problems = [line for line in found.stdout.splitlines()[:-1] if "presses" not in line]
    assert len(problems) == 2
    for line in problems:
        assert re.fullmatch(r".+\.md:\d+:\d+: .+[.?]", line)


def test_what_cannot_be_read(shelf: Path, tmp_path: Path) -> None:
    found = run(check, shelf / "none.md", shelf / "good.md")
    assert found.exit_code == 2
    assert "cannot be opened" in found.stderr
    assert "1 lesson checked" in found.stdout
    (tmp_path / "empty").mkdir()
    found = run(check, tmp_path / "empty")
    assert found.exit_code == 2
    assert "no lesson" in found.stderr
    assert run(check).exit_code == 2


@pytest.mark.parametrize("name", ["x" * 300, "loop", "loop/a.md", "good.md/a.md", "closed/a.md"])
def test_what_cannot_be_looked_at_is_told(
    shelf: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    (shelf / "loop").symlink_to(shelf / "loop")
    look = os.stat

    def refused(path: str | Path, *rest: Any, **more: Any) -> os.stat_result:
        """As the system does for one who may not look into a folder."""
        if "closed" in str(path):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(path))
        return look(path, *rest, **more)

    monkeypatch.setattr(os, "stat", refused)
    found = run(check, shelf / name, shelf / "good.md")
    assert found.exit_code == 2 and isinstance(found.exception, SystemExit)
    assert f"'{shelf / name}' cannot be opened: " in found.stderr
    assert "1 lesson checked" in found.stdout


def test_a_folder_that_cannot_be_opened_is_not_called_empty(
    shelf: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    refused = Mock(side_effect=OSError(errno.EIO, os.strerror(errno.EIO)))
    monkeypatch.setattr(os, "listdir", refused)
    monkeypatch.setattr(os, "scandir", refused)
    found = run(check, shelf)
    assert found.exit_code == 2 and "no lesson" not in found.stderr
    assert f"The folder '{shelf}' cannot be opened: {os.strerror(errno.EIO)}." in found.stderr


@pytest.mark.parametrize("machine", ["8-bit", "16-bit"])
def test_a_new_lesson_is_whole(tmp_path: Path, machine: str) -> None:
    found = run(new, tmp_path / "baking-day", "--machine", machine)
    assert found.exit_code == 0, found.output
    file = tmp_path / "baking-day.md"
    assert str(file) in found.output
    checked = run(check, "--strict", file)
    assert checked.exit_code == 0
    assert checked.stdout.splitlines() == [
        f"{file}: presses of the clicker in each scene: 3, 38, 4, 14, 3, 2, 18.",
        "1 lesson checked: 0 faults, 0 warnings.",
    ]
    text = file.read_text("utf-8")
    # A small memory is in sight whole: there a 'watch' block would be told to do nothing.
    # And nothing interrupts a machine whose header does not ask for that.
    useless = {"interrupts", *(["watch"] if machine == "8-bit" else [])}
    assert {each for each in BLOCKS if f"\n```{each}\n" in text} == set(BLOCKS) - useless
    lesson = read_file(file)
    assert lesson.header.title == "Baking day"
    assert lesson.header.machine.name == machine
    assert sum(len(scene.questions) for scene in lesson.scenes) == 5


@pytest.mark.parametrize("machine", ["8-bit", "16-bit"])
def test_the_answer_to_the_homework_of_a_new_lesson_is_what_its_program_shows(
    tmp_path: Path, machine: str
) -> None:
    run(new, tmp_path / "x", "--machine", machine)
    scene = next(each for each in read_file(tmp_path / "x.md").scenes if each.homework)
    text = " ".join(scene.homework.split())
    asked = re.search(r"inputs (\d+) and (\d+)\? And for (\d+) and (\d+)\?", text)
    said = re.search(r"\((\d+); .* a word of (\d+) bits, so it shows (-\d+)\.\)", text)
    assert asked and said and scene.solution
    first, second, third, fourth = map(int, asked.groups())
    size = scene.program.machine
    assert int(said[2]) == size.word_bits
    for inputs, shown in (((first, second), said[1]), ((third, fourth), said[3])):
        done = Run(size, scene.solution.words, inputs, 100)
        given = done.outputs(done.finish().sent)
        assert [size.signed(each) for each in given] == [int(shown)]


def test_the_task_of_a_new_lesson_is_not_done_yet(tmp_path: Path) -> None:
    run(new, tmp_path / "x")
    scene = read_file(tmp_path / "x.md").scenes[-1]
    assert scene.task and not check_task(scene.program, scene.task, scene.limit).passed


@pytest.mark.parametrize("name", ["a: b", "null", "#1", "x\"y'z", "{braces}", "-", "été", "yes"])
def test_a_new_lesson_of_any_name(tmp_path: Path, name: str) -> None:
    assert run(new, "--", tmp_path / name).exit_code == 0
    lesson = read_file(tmp_path / f"{name}.md")
    assert lesson.problems == ()
    assert lesson.header.title.casefold() == name.casefold()


@pytest.mark.skipif(os.name == "nt", reason="Windows quotes in another way")
@pytest.mark.parametrize("name", ["my lesson!", "-x", "it's $HOME"])
def test_the_command_that_is_printed_works_as_it_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "argv", [str(ROOT / "app" / "__main__.py")])
    found = run(new, "--", name)
    line = found.stdout.splitlines()[-1]
    paths = os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")])
    checked = subprocess.run(
        line,
        shell=True,
        cwd=tmp_path,
        capture_output=True,
        text=True,
        env=os.environ | {"PYTHONPATH": paths},
    )
    assert (checked.returncode, checked.stderr) == (0, "")
    assert checked.stdout.endswith("\n1 lesson checked: 0 faults, 0 warnings.\n")


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such names")
@pytest.mark.parametrize("name", ["d\x1b[31mx", "d\u202ex", os.fsdecode(b"d\xff")])
def test_a_command_that_could_not_be_pasted_is_not_printed(tmp_path: Path, name: str) -> None:
    (tmp_path / name).mkdir()
    found = run(new, tmp_path / name / "y")
    assert found.exit_code == 0 and (tmp_path / name / "y.md").is_file()
    assert name not in found.output and printable(name) in found.stdout
    assert "    " not in found.stdout and "another name" in found.stdout


def test_a_lesson_is_made_where_the_folder_of_the_command_is_gone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Path, "cwd", Mock(side_effect=FileNotFoundError(2, "gone")))
    assert run(new, tmp_path / "x").exit_code == 0


@pytest.mark.parametrize("name", ["con", "AUX.md", "com1.x", "lpt9"])
def test_a_name_that_a_system_keeps_is_refused(tmp_path: Path, name: str) -> None:
    found = run(new, tmp_path / name)
    assert found.exit_code == 1 and "Choose another name." in found.stderr
    assert list(tmp_path.iterdir()) == []


def test_a_name_that_the_list_leaves_out_is_refused(tmp_path: Path) -> None:
    found = run(new, tmp_path / ".lesson")
    assert found.exit_code == 1 and "hidden name" in found.stderr
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(os.name == "nt", reason="Windows has other paths")
def test_the_command_is_printed_as_it_was_given(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / ".venv" / "bin").mkdir(parents=True)

    def printed() -> str:
        (tmp_path / "x.md").unlink(missing_ok=True)
        return run(new, "x").stdout.splitlines()[-1].strip()

    monkeypatch.setattr(sys, "executable", str(tmp_path / ".venv" / "bin" / "python"))
    monkeypatch.setattr(sys, "argv", [str(ROOT / "app" / "__main__.py")])
    assert printed() == ".venv/bin/python -m app check x.md"
    script = tmp_path / ".venv" / "bin" / "chalkcycle"
    monkeypatch.setattr(sys, "argv", [str(script)])
    assert printed() == ".venv/bin/chalkcycle check x.md"
    script.write_text("")
    script.chmod(0o755)
    monkeypatch.setenv("PATH", str(script.parent))
    assert printed() == "chalkcycle check x.md"


def test_a_lesson_is_never_written_over(shelf: Path) -> None:
    for name in ("good", "good.md"):
        found = run(new, shelf / name)
        assert found.exit_code == 1
        assert "already" in found.stderr
    assert (shelf / "good.md").read_text("utf-8") == GOOD


def test_a_place_that_cannot_be_written(tmp_path: Path) -> None:
    found = run(new, tmp_path / "no" / "such" / "folder")
    assert found.exit_code == 1
    assert "cannot be written" in found.stderr
    assert run(new, tmp_path / "x", "--machine", "9-bit").exit_code == 2
