"""The commands for whoever writes lessons: ``check`` and ``new``."""

from __future__ import annotations

import os
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import click

from app.lesson.at_once import worked_out_at_once
from app.lesson.file.habits import syllabus_beside
from app.lesson.file.head import read_syllabus
from app.lesson.file.reader import read_file, slug_of
from app.lesson.file.shelf import lesson_files, not_opened
from app.lesson.file.starter import starter_lesson
from app.lesson.model import Lesson
from app.lesson.pressing import MOST_COUNTED, presses_of
from app.lesson.writing.folder import is_reserved
from app.machine.machine import EIGHT_BIT, MACHINES
from app.machine.source.problems import printable
from app.machine.telling.counts import counted

CLEAN, FAULTS, UNREADABLE = 0, 1, 2


@click.command()
@click.argument("paths", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--strict", is_flag=True, help="Let warnings count as faults.")
@click.pass_context
def check(context: click.Context, paths: tuple[Path, ...], strict: bool) -> None:
    """Say what is wrong with lesson files; PATHS are files or folders of them.

    Every problem is a line of the form file:line:column: what is wrong, and how to mend it. The
    exit code is 0 without faults, 1 with some, 2 where something cannot be read.
    """
    lessons = faults = warnings = 0
    unreadable = False
    heard: set[Path] = set()
    for path in paths:
        is_folder = os.path.isdir(path)  # False as well where that cannot be asked
        files = lesson_files(path) if is_folder else [path]
        if is_folder and not files:
            shown = printable(str(path))
            nothing = f"There is no lesson in '{shown}': no file there ends in '.md'."
            click.echo(not_opened(path) or nothing, err=True)
            unreadable = True
        for file in files[:1]:
            syllabus = syllabus_beside(file)
            if syllabus in heard:
                continue
            heard.add(syllabus)
            _, wrong = read_syllabus(file)
            faults += len(wrong)
            for problem in wrong:
                click.echo(f"{printable(str(syllabus))}:{problem}")
        for file in files:
            shown = printable(str(file))
            try:
                lesson = read_file(file)
            except OSError as error:
                click.echo(f"'{shown}' cannot be opened: {error.strerror}.", err=True)
                unreadable = True
                continue
            lessons += 1
            faults += len(lesson.faults)
            warnings += len(lesson.problems) - len(lesson.faults)
            for problem in lesson.problems:
                click.echo(f"{shown}:{problem}")
            if lesson.can_be_taught:
                click.echo(f"{shown}: {_presses(lesson)}")
    click.echo(
        f"{counted(lessons, 'lesson')} checked: {counted(faults, 'fault')},"
        f" {counted(warnings, 'warning')}."
    )
    if unreadable:
        context.exit(UNREADABLE)
    context.exit(FAULTS if faults or (strict and warnings) else CLEAN)


def _presses(lesson: Lesson) -> str:
    """How many presses each scene takes, for whoever plans the lesson."""
    counts = presses_of(worked_out_at_once(lesson.scenes))
    shown = [
        f"{each}{' or more' if each == MOST_COUNTED else ''}" for each in counts if each is not None
    ]
    if len(shown) < len(lesson.scenes):
        shown.append("and no more were counted")
    return f"presses of the clicker in each scene: {', '.join(shown)}."


@click.command()
@click.argument("name", type=click.Path(path_type=Path))
@click.option(
    "--machine",
    type=click.Choice(list(MACHINES), case_sensitive=False),
    default=EIGHT_BIT.name,
    show_default=True,
    help="The machine that the lesson is about.",
)
def new(name: Path, machine: str) -> None:
    """Start a lesson: write NAME.md, a lesson to change that shows every kind of block that its
    machine has a use for."""
    if not name.name:
        raise click.UsageError("Give the lesson a name, as in 'new my-lesson'.")
    file = name if name.suffix == ".md" else name.with_name(f"{name.name}.md")
    shown = printable(str(file))
    if slug_of(file) != file.stem:
        raise click.ClickException(f"'{shown}' has signs that no address can hold.")
    if file.name.startswith("."):
        said = f"'{shown}' has a hidden name, and the list of lessons leaves those out."
        raise click.ClickException(f"{said} Choose one that does not start with a dot.")
    if is_reserved(file.name):
        said = f"'{shown}' has a name that Windows keeps for itself. Choose another name."
        raise click.ClickException(said)
    text = starter_lesson(file.stem, MACHINES[machine])
    try:
        # 'x' makes a file only where none is, so that nobody's work is ever written over.
        with file.open("x", encoding="utf-8", newline="\n") as new_file:
            new_file.write(text)
    except FileExistsError as error:
        raise click.ClickException(f"There is a '{shown}' already. Choose another name.") from error
    except OSError as error:
        raise click.ClickException(f"'{shown}' cannot be written: {error.strerror}.") from error
    name_is_option = ["--"] if str(file).startswith("-") else []
    words = [*_started_as(), "check", *name_is_option, str(file)]
    if any(printable(each) != each for each in words):
        # Spelled out it would name another file, and as it is it would do things to the terminal.
        click.echo(
            f"Written: {shown}. Change it in any text editor, then check it with 'check' and its"
            " path. That cannot be printed to be pasted, for it has signs that cannot be shown:"
            " give the folder another name, of letters and digits for example."
        )
        return
    click.echo(f"Written: {shown}. Change it in any text editor, then check it with")
    click.echo(f"    {_pasteable(words)}")


def _started_as() -> list[str]:
    """The words that start Chalkcycle as it was started now."""
    script = Path(sys.argv[0])
    if script.name == "__main__.py":
        return [_shortest(Path(sys.executable)), "-m", "app"]
    return [_shortest(script)]


def _shortest(program: Path) -> str:
    """A program by its name where that finds it, else by its path, from here if it is below."""
    if shutil.which(program.name) == str(program):
        return program.name
    try:
        here = Path.cwd()
    except OSError:
        return str(program)  # the folder that this was started in has been taken away
    # A program in this very folder would not be found by its name alone.
    if here in program.parents and program.parent != here:
        return str(program.relative_to(here))
    return str(program)


def _pasteable(words: list[str]) -> str:
    return subprocess.list2cmdline(words) if os.name == "nt" else shlex.join(words)
