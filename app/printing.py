"""The commands that make files of a lesson: ``print`` (PDF) and ``replay`` (one web page)."""

from __future__ import annotations

import signal
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import quote, urlencode

import click

from app import create_app
from app.browsers import find_browser
from app.lesson.at_once import worked_out_at_once
from app.lesson.file.shelf import Shelf
from app.lesson.model import Lesson, Scene
from app.lesson.paper.trace import MEMORY, Rows, places
from app.lesson.paper.versions import MOST_VERSIONS
from app.lesson.paper.worksheet import Support
from app.machine.machine import MACHINES
from app.machine.source.problems import printable
from app.machine.telling.counts import counted
from app.machine.words import EVERY_BASE
from app.web.paper.pdf import BY_HAND, NotPrinted, print_pages
from app.web.paper.replay import LARGEST_FILE, MOST_FRAMES, Replay, replay_page
from app.web.paper.replays import pages
from app.web.paper.sheets import DOCUMENTS, Size
from app.web.paper.sums import has_sums

_LESSON = click.Path(exists=True, dir_okay=False, path_type=Path)


# Of every machine: which one it is the lesson says.
_COLUMNS = dict.fromkeys(
    each for machine in MACHINES.values() for each in (*places(machine), MEMORY)
)


@click.command("print")
@click.argument("lesson", type=_LESSON)
@click.option(
    "-o",
    "--output",
    "folder",
    type=click.Path(file_okay=False, path_type=Path),
    help="The folder for the PDF files; if not given, one beside the lesson's name here.",
)
@click.option(
    "--only",
    "names",
    multiple=True,
    type=click.Choice(list(DOCUMENTS)),
    help="What to print, if not everything. Can be given several times.",
)
@click.option(
    "--paper",
    "size",
    type=click.Choice([each.value for each in Size]),
    default=Size.A4.value,
    show_default=True,
)
@click.option("--scene", type=click.IntRange(1), help="One scene, by its number, if not all.")
@click.option(
    "--level",
    type=click.IntRange(1, len(Support)),
    default=1,
    show_default=True,
    help="Worksheets: how little is given, from 1 to 3.",
)
@click.option(
    "--versions",
    type=click.IntRange(1, MOST_VERSIONS),
    default=2,
    show_default=True,
    help="Worksheets: how many, each with other numbers.",
)
@click.option("--seed", default="", help="Worksheets: any word; another word, other numbers.")
@click.option(
    "--rows",
    type=click.Choice([each.value for each in Rows]),
    default=Rows.INSTRUCTIONS.value,
    show_default=True,
    help="Worksheets: what one row stands for.",
)
@click.option(
    "--column",
    "columns",
    multiple=True,
    type=click.Choice(list(_COLUMNS)),
    help="Worksheets: a column, if not those that fit the program. Can be given several times.",
)
@click.option("--base", type=click.Choice(EVERY_BASE), default="denary", show_default=True)
def print_lesson(
    lesson: Path,
    folder: Path | None,
    names: tuple[str, ...],
    size: str,
    scene: int | None,
    level: int,
    versions: int,
    seed: str,
    rows: str,
    columns: tuple[str, ...],
    base: str,
) -> None:
    """Print what there is on paper of a LESSON file as PDF files."""
    read = _lesson(lesson)
    if scene and scene > len(read.scenes):
        raise click.ClickException(f"The lesson has {len(read.scenes)} scenes, so none is {scene}.")
    folder = folder or Path(f"{lesson.stem}-paper")
    query = urlencode(
        {
            "size": size,
            "scene": scene or "",
            "level": level,
            "versions": versions,
            "seed": seed,
            "rows": rows,
            "column": columns,
            "base": base,
        },
        doseq=True,
        errors="backslashreplace",  # a word that was typed need be no text
    )
    of = read.scenes[scene - 1 : scene] if scene else read.scenes
    wanted = names or tuple(each for each in DOCUMENTS if _has(read, of, each))
    missing = [each for each in wanted if not _has(read, of, each)]
    if missing:
        where = f"scene {scene}" if scene else "the lesson"
        raise click.ClickException(
            f"There is nothing to print for '{missing[0]}': {where} has no"
            f" {_WITHOUT.get(missing[0].partition('-')[0], 'program')}."
        )
    browser = find_browser()
    if browser is None:
        raise click.ClickException(
            "No Chromium, Chrome or Edge was found to make PDF files with. Install one, or start"
            f" Chalkcycle. {BY_HAND}"
        )
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        shown = printable(str(folder))
        raise click.ClickException(f"'{shown}' cannot be made: {error.strerror}.") from error
    pages = [f"/paper/{quote(lesson.stem)}/{name}?{query}" for name in wanted]
    try:
        with _tidied_up():
            printed = print_pages(browser, create_app(lesson), pages, spare=folder.absolute())
            for name, data in zip(wanted, printed, strict=True):
                file = folder / f"{lesson.stem}-{name}.pdf"
                _write(file, data)
                click.echo(f"Written: {printable(str(file))}")
    except NotPrinted as error:
        raise click.ClickException(str(error)) from error


@contextmanager
def _tidied_up() -> Iterator[None]:
    """Whoever ends the command, or closes its window, ends the browsers as well, and leaves none of
    their files: as with Ctrl+C."""

    def end(number: int, _: object) -> None:
        raise SystemExit(128 + number)

    names = [each for each in ("SIGTERM", "SIGHUP") if hasattr(signal, each)]
    before = {each: signal.signal(getattr(signal, each), end) for each in names}
    try:
        yield
    finally:
        for name, handler in before.items():
            signal.signal(getattr(signal, name), handler)


# What a lesson lacks that has nothing to print of a kind; of the others, a program.
_WITHOUT = {"quiz": "questions", "sums": "sums"}


def _has(lesson: Lesson, scenes: Sequence[Scene], name: str) -> bool:
    """Whether there is anything to print of a kind of document, from these scenes of a lesson."""
    if name.startswith("quiz"):
        return any(each.questions for each in worked_out_at_once(scenes))
    if name.startswith("sums"):
        return has_sums(lesson, scenes)
    if name in ("worksheets", "answers"):
        return any(each.program.words for each in scenes)
    return True


@click.command()
@click.argument("lesson", type=click.Path(exists=True, path_type=Path))
@click.option(
    "-o",
    "--output",
    "file",
    type=click.Path(path_type=Path),
    help="The file to write; if not given, the lesson's name with '-replay.html'. Of a folder of"
    " lessons, the folder to write; if not given, 'replays'.",
)
def replay(lesson: Path, file: Path | None) -> None:
    """Write a LESSON file as one web page that plays it from disk, without a network; or the
    lessons of a folder as a folder of such pages with a start page."""
    if lesson.is_dir():
        _write_replays(lesson, file or Path("replays"))
        return
    if file and file.suffix.casefold() == ".md":
        what = f"'{printable(str(file))}' is the name of a lesson, and would be written over."
        raise click.ClickException(f"{what} Give one that ends in '.html'.")
    read = _lesson(lesson)
    made = replay_page(read, create_app(lesson).jinja_env)
    file = file or Path(f"{lesson.stem}-replay.html")
    _write(file, made.html.encode())
    click.echo(f"Written: {printable(str(file))} ({len(made.html.encode()) / 1000:.0f} kB)")
    _tell_cut(made)


def _write_replays(lessons: Path, folder: Path) -> None:
    found = Shelf(lessons).lessons()
    if not any(each.can_be_taught for each in found):
        shown = printable(str(lessons))
        raise click.ClickException(f"There is no lesson in '{shown}' that can be taught.")
    for each in found:
        if not each.can_be_taught:
            click.echo(f"Left out: {printable(each.slug)}, which has faults.", err=True)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        shown = printable(str(folder))
        raise click.ClickException(f"'{shown}' cannot be made: {error.strerror}.") from error
    failed = 0
    for page in pages(found, create_app(lessons).jinja_env):
        _write(folder / page.name, page.html.encode())
        shown = printable(str(folder / page.name))
        if page.failed:
            failed += 1
            click.echo(f"Only a page that says so: {shown}. {page.failed}", err=True)
            continue
        click.echo(f"Written: {shown}")
        if page.replay:
            _tell_cut(page.replay)
    if failed:
        raise click.ClickException(f"{counted(failed, 'replay')} could not be made.")


def _tell_cut(made: Replay) -> None:
    for each in made.cut:
        title = printable(each.title)
        if each.kept:
            said = (
                f"Of the scene '{title}' only the first {each.kept:,} steps are in it: a replay has"
                f" at most {MOST_FRAMES:,} steps and {LARGEST_FILE / 1000:.0f} kB."
            )
        else:
            said = f"The scene '{title}' is not in it: those before are as much as is made at once."
        click.echo(said, err=True)


def _write(file: Path, data: bytes) -> None:
    try:
        file.write_bytes(data)
    except OSError as error:
        shown = printable(str(file))
        raise click.ClickException(f"'{shown}' cannot be written: {error.strerror}.") from error


def _lesson(path: Path) -> Lesson:
    """The lesson of a file, if it can be taught from."""
    shown = printable(str(path))
    if path.suffix != ".md":
        raise click.ClickException(f"'{shown}' is not a lesson file: its name must end in '.md'.")
    found = Shelf(path).read(path)
    for problem in found.faults:
        click.echo(f"{shown}:{problem}", err=True)
    if not found.can_be_taught:
        raise click.ClickException("The lesson has faults, so nothing is made of it yet.")
    return found
