"""From a lesson file to a lesson.

A lesson file is Markdown: a header between two lines of ``---``, then scenes. Each ``#`` heading
starts a scene; the prose under it is the teacher's notes; fenced blocks (``scenes.BLOCKS``) make
the scene work. A scene without a program keeps the last one.
"""

from __future__ import annotations

import os
import re
import stat
from bisect import bisect_right
from codecs import BOM_UTF8
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from hashlib import blake2s
from itertools import islice, pairwise
from pathlib import Path
from typing import Any

from markdown_it.token import Token

from app.lesson.asking.questions import MOST_QUESTIONS
from app.lesson.header import Header
from app.lesson.model import Lesson, Scene
from app.lesson.unseen import (
    UNSEEN,
    as_shown,
    first_unseen,
    misleading,
    stands_here,
    without_unseen,
)
from app.machine.characters import CHARACTERS
from app.machine.requests import Request
from app.machine.source.assembler import Program
from app.machine.source.problems import Problem, nearest, printable

from .checks import check_scenes
from .failures import failed
from .fences import tidy
from .habits import SYLLABUS, together
from .head import header_of, read_header, read_syllabus
from .prose import Calls, keep_outline, read_blocks, too_long, unseen_pictures
from .scene_lines import below_header, is_of_header, read_scene_lines, said_in_notes
from .scenes import BLOCKS, MOST_PROBLEMS, Block, Draft, Problems, make_scene

LARGEST_FILE = 256 * 1024
MOST_LINES = 5_000
MOST_SCENES = 60
LONGEST_SCENE_TITLE = 120
# What is told of a file whose every scene, or every line of notes, has the same slip.
MOST_TOLD_ALIKE = 20

# The blocks that the assembler reads, which tells every sign that it does not know.
PROGRAMS = ("program", "solution", "change")
# Those whose words the class reads.
WITH_WORDS = ("cues", "question", "task", "homework")

_HIDE = "Take it out of the file where it is to be hidden."

# What holds the header.
RULE = re.compile(r"---\s*")


def read_file(path: Path) -> Lesson:
    """Read a lesson file; what is wrong with it, unreadable bytes included, is in ``problems``.

    Raises OSError where the file cannot be opened.
    """
    slug = slug_of(path)
    if slug != path.stem:
        what = f"The file's name, '{printable(path.name)}', has signs that no address can hold."
        mend = "Give it another name, of letters and digits for example."
        return unread(slug, what, mend, printable(path.stem))
    status = path.stat()
    if not stat.S_ISREG(status.st_mode):
        # To open a pipe would wait for whoever writes into it, and a device may have no end.
        what = "This is no file but a pipe, a device or a folder."
        return unread(slug, what, "Put a text file in its place.")
    size = status.st_size
    data = b""
    if size <= LARGEST_FILE:
        with path.open("rb") as file:
            # It may have grown since.
            data = file.read(LARGEST_FILE + 1)
        size = len(data)
    if size > LARGEST_FILE:
        return _too_large(slug, size)
    data = data.removeprefix(BOM_UTF8)
    try:
        source = data.decode()
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        what = "This line has bytes that are not UTF-8 text."
        mend = "Save the file as UTF-8 in your editor."
        # Latin-1 has a character for every byte: whatever was written, this is it and nothing else.
        text = data.decode("latin-1")
        return Lesson(slug, Header(slug), (), (Problem(line, 1, 1, what, mend),), text)
    folder, wrong = read_syllabus(path)
    lesson = read_lesson(slug, source, folder)
    return replace(lesson, problems=tuple(sorted((*lesson.problems, *map(_of_folder, wrong[:1])))))


def _of_folder(problem: Problem) -> Problem:
    """What a lesson is told of a fault in the file that speaks for its folder."""
    what = f"Line {problem.line} of '{SYLLABUS}' cannot be used. {problem.what}"
    return Problem(1, 1, 1, what, problem.mend, warning=True)


def slug_of(path: Path) -> str:
    """The name of a lesson file in addresses: that of the file without its ending.

    A name that cannot stand there (it has control characters, or bytes that are no UTF-8, or only
    dots) is made one that can and that no other file has.
    """
    if printable(path.stem) == path.stem and path.stem.strip("."):
        return path.stem
    plain = re.sub(r"\W+", "-", printable(path.stem))
    return f"{plain}-{blake2s(os.fsencode(path.name), digest_size=4).hexdigest()}"


def _too_large(slug: str, size: int) -> Lesson:
    mend = f"A lesson file may have {LARGEST_FILE}; make two lessons of it."
    return unread(slug, f"The file has {size} bytes.", mend)


def unread(slug: str, what: str, mend: str, title: str = "") -> Lesson:
    """The lesson of a file of which nothing can be read, and why."""
    return Lesson(slug, Header(title or slug), (), (Problem(1, 1, 1, what, mend),))


def read_lesson(slug: str, source: str, folder: Mapping[str, Any] | None = None) -> Lesson:
    """Read the text of a lesson. Never raises for what a person may write. ``folder`` are the
    fields that its folder says for all its lessons."""
    # Halves of characters can be written nowhere; no file has them, but a text may.
    source = re.sub("[\ud800-\udfff]", "\N{REPLACEMENT CHARACTER}", source)
    # A text that is being written is in no file yet, and may be longer than any.
    size = len(source.encode())
    if size > LARGEST_FILE:
        return replace(_too_large(slug, size), source=source)
    try:
        return _read(slug, source, folder or {})
    except Exception as error:
        # It should not, but if it does, its text and all the other lessons are still there.
        return replace(unread(slug, *failed(error, slug, source)), source=source)


def _read(slug: str, source: str, folder: Mapping[str, Any]) -> Lesson:
    text = (
        source.replace("\r\n", "\n").replace("\r", "\n").replace("\0", "\N{REPLACEMENT CHARACTER}")
    )
    lines = text.split("\n")
    if len(lines) > MOST_LINES:
        what = f"The file has {len(lines)} lines."
        mend = f"A lesson file may have {MOST_LINES}; make two lessons of it."
        return replace(unread(slug, what, mend), source=source)
    problems = Problems()
    header, body, first_line = _read_head(slug, lines, problems, folder)
    drafts = _read_scenes(body, first_line, problems) if body is not None else []
    scenes: list[Scene] = []
    program = Program(header.machine, "")
    inputs: tuple[int, ...] = ()
    requests: tuple[Request, ...] = ()
    for draft in drafts[:MOST_SCENES]:
        scene = make_scene(draft, header, program, inputs, requests, problems)
        if not scene.scale:
            program, inputs, requests = scene.program, scene.inputs, scene.requests
        scenes.append(scene)
    if len(drafts) > MOST_SCENES:
        what = f"The lesson has {len(drafts)} scenes."
        mend = f"A lesson may have {MOST_SCENES}; make two lessons of it."
        problems.append(Problem(drafts[MOST_SCENES].line, 1, 1, what, mend))
    asked = [each for draft in drafts for each in draft.blocks if each.kind == "question"]
    if len(asked) > MOST_QUESTIONS:
        what = f"The lesson has {len(asked)} questions."
        mend = f"A lesson may have {MOST_QUESTIONS}; make two lessons of it."
        problems.append(Problem(asked[MOST_QUESTIONS].line - 1, 1, 3, what, mend))
    if not header.characters:
        problems += islice(_unoffered(scenes), MOST_TOLD_ALIKE)
    if not problems.faults:
        problems += islice(check_scenes(_as_meant(drafts, scenes), header.minutes), MOST_PROBLEMS)
    told = tuple(each.told(header.wording.say) for each in _told(problems))
    return Lesson(slug, header, tuple(scenes), told, source)


def _unoffered(scenes: Sequence[Scene]) -> Iterator[Problem]:
    """Cues that show characters in a lesson whose header does not offer them."""
    for cue in (cue for scene in scenes for cue in scene.cues):
        if cue.actions.base == CHARACTERS:
            what = "This cue shows words as characters, and the header does not offer that."
            mend = "Add a line 'characters: yes' to the header."
            yield Problem(cue.line, cue.column, len(cue.text), what, mend)


def _told(problems: list[Problem]) -> tuple[Problem, ...]:
    """The problems in the order of the text; of very many the first, faults before warnings."""
    if len(problems) <= MOST_PROBLEMS:
        return tuple(sorted(problems))
    kept = sorted(problems, key=lambda each: (each.warning, each))[:MOST_PROBLEMS]
    # Where there is room for a warning every fault has been looked for, and is told.
    all_read = kept[-1].warning
    rest = "not all of them are told" if all_read else "not all of it was read"
    what = f"The file has more than {MOST_PROBLEMS} problems, so {rest}."
    more = Problem(1, 1, 1, what, "Mend the others first.", all_read)
    return tuple(sorted([*kept, more]))


def _as_meant(drafts: list[Draft], scenes: list[Scene]) -> list[Scene]:
    """The scenes without those that lack what was taken as text: that has been told already."""
    found = []
    lacking = False
    for draft, scene in zip(drafts, scenes, strict=False):
        lacking = draft.lacking or (lacking and not scene.program_line)
        if not lacking:
            found.append(scene)
    return found


def _read_head(
    slug: str, lines: list[str], problems: Problems, folder: Mapping[str, Any]
) -> tuple[Header, list[str] | None, int]:
    """The header, the lines after it, and the line of the file that they start on.

    None for lines where nothing can be said about what comes after.
    """
    start = next((at for at, each in enumerate(lines) if each.strip()), None)
    if start is None or not _is_rule(lines, start, problems):
        what = "The file does not start with a header."
        mend = "Start with a line of '---', then 'title: The name of the lesson', then '---'."
        problems.append(Problem(1, 1, max(len(lines[0]), 1), what, mend))
        return Header(slug), None if start is None else lines, 1
    if start:
        above = "empty line" if start == 1 else f"{start} empty lines"
        what = f"The header starts on line {start + 1}, not on the first."
        problems.append(Problem(1, 1, 1, what, f"Take away the {above} above its '---'."))
    after = range(start + 1, len(lines))
    end = next((at for at in after if _is_rule(lines, at, problems)), None)
    if end is None:
        what = "The header has no end."
        mend = "Write a line of '---' after its last line."
        problems.append(Problem(start + 1, 1, 3, what, mend))
        return Header(slug), None, len(lines)
    fields, found = read_header("\n".join(lines[start + 1 : end]), start + 2)
    problems += found
    return header_of(slug, together(folder, fields)), lines[end + 1 :], end + 2


def _is_rule(lines: list[str], at: int, problems: Problems) -> bool:
    """Whether a line holds the header. One that looks as if it did, and does not, is told and taken
    for one."""
    line = lines[at]
    if RULE.fullmatch(line):
        return True
    if not RULE.fullmatch(without_unseen(line)):
        return False
    place, code = first_unseen(line)
    what = f"A sign that nobody sees ({code}) stands in this line of '---'."
    mend = "Take it out, so that the line is just '---'."
    problems.append(Problem(at + 1, place + 1, 1, what, mend))
    return True


def _read_scenes(lines: list[str], first_line: int, problems: Problems) -> list[Draft]:
    tidied = tidy(lines, first_line, BLOCKS, MOST_PROBLEMS + 1)
    problems += tidied.problems
    drafts: list[Draft] = []
    calls = Calls()
    text = "\n".join(tidied.lines)
    tokens = read_blocks(
        text, lambda line: problems.append(too_long("notes", line + first_line)), calls
    )
    keep_outline(text, tokens)
    for paragraph in islice(unseen_pictures(tokens), MOST_TOLD_ALIKE):
        at = next((each for each in paragraph if "![" in tidied.lines[each]), paragraph[0])
        problems.append(_unseen(at + first_line, tidied.lines[at]))
    smaller: Draft | None = None  # where a smaller heading is, which a scene may have been meant by
    homeless = False
    at = 0
    while at < len(tokens) and not problems.full:
        token = tokens[at]
        line = (token.map[0] if token.map else 0) + first_line
        if token.type == "heading_open" and token.level == 0:
            draft = Draft(UNSEEN.sub(" ", tokens[at + 1].content), line, calls=calls)
            if token.tag == "h1":
                drafts.append(draft)
                smaller = None
                if not as_shown(draft.title):
                    what = "This scene has no name."
                    problems.append(Problem(line, 1, 1, what, "Write its name after the '#'."))
                elif len(draft.title) > LONGEST_SCENE_TITLE:
                    what = f"The name of this scene has {len(draft.title)} letters."
                    mend = (
                        f"Keep it under {LONGEST_SCENE_TITLE + 1}; the rest belongs in the notes."
                    )
                    problems.append(Problem(line, 1, 1, what, mend))
                at += 3
                continue
            smaller = draft
        if token.type == "fence" and token.info.strip():
            block = _read_block(token, lines, first_line, problems)
            if block and smaller and (not drafts or drafts[-1].has_one(block.kind)):
                problems.append(_too_small(smaller))
                drafts.append(smaller)
                smaller = None
            if block and drafts:
                drafts[-1].blocks.append(block)
            elif block and not homeless:
                homeless = True
                what = f"This '{block.kind}' block stands before the first scene."
                mend = "Start the scene with a line '# The name of the scene' above it."
                problems.append(Problem(line, 1, len(token.markup + token.info), what, mend))
            elif drafts and token.level:
                drafts[-1].tokens.append(token)
        elif drafts and token.type == "paragraph_open" and drafts[-1].is_empty:
            at += _read_first_paragraph(
                drafts[-1], tokens[at : at + 3], lines, first_line, problems
            )
            continue
        elif drafts:
            drafts[-1].tokens.append(token)
        at += 1
    said_by = {at for each in drafts for at in each.said_by}
    problems += islice(_said_in_notes(tokens, said_by, first_line), MOST_TOLD_ALIKE)
    problems += islice(_second_headers(tokens, tidied.lines, first_line), MOST_TOLD_ALIKE)
    starts = [each.line for each in drafts]
    if starts:
        above = tidied.lines[: starts[0] - first_line]
        found = (wrong.moved(at) for at, each in enumerate(above) if (wrong := below_header(each)))
        told = {each.line for each in problems}
        there = (each.moved(first_line - 1) for each in islice(found, MOST_TOLD_ALIKE))
        problems += [each for each in there if each.line not in told]
    for line in (each + first_line for each in tidied.taken_as_text):
        if at := bisect_right(starts, line):
            drafts[at - 1].lacking = True
    if not drafts and not homeless:
        what = "The lesson has no scene."
        mend = "Start one with a line '# The name of the scene'."
        # A file may end with its header.
        line = smaller.line if smaller else first_line if lines else max(first_line - 1, 1)
        problems.append(Problem(line, 1, 1, what, mend))
    return drafts


def _read_first_paragraph(
    draft: Draft, tokens: list[Token], lines: list[str], first_line: int, problems: Problems
) -> int:
    """Take what stands right under a heading: lines that say something of the scene, and notes.
    Answers how many tokens that was."""
    start, end = tokens[0].map or (0, 0)
    count, draft.said, wrong = read_scene_lines(lines[start:end], start + first_line)
    problems += wrong
    draft.said_by = range(start, start + count)
    if count:
        line = start + count
        # They are read twice. What has been said of the whole is not said again of its parts.
        known = draft.calls.left < 0

        def tell(at: int) -> None:
            if not known:
                problems.append(too_long("notes", first_line + line + at))

        draft.tokens += read_blocks("\n".join(lines[line:end]), tell, draft.calls)
    else:
        draft.tokens += tokens
    return len(tokens)


def _unseen(line: int, text: str) -> Problem:
    what = "There is a picture in these notes that will not be seen: only its words are shown."
    mend = "Show it in another program, or draw it on a real board."
    return Problem(line, text.find("![") + 1 or 1, 2, what, mend, warning=True)


def _second_headers(
    tokens: Sequence[Token], lines: Sequence[str], first_line: int
) -> Iterator[Problem]:
    """Headers of other lessons, whose scenes were put behind those of this one."""
    for before, token in pairwise(tokens):
        start = token.map[0] if token.map else 0
        if before.type not in ("paragraph_open", "heading_open") or not start:
            continue
        said = token.content.split("\n")
        if RULE.fullmatch(lines[start - 1]) and any(is_of_header(each) for each in said):
            what = "This is a second header, so it says nothing: one speaks for all of the file."
            mend = "Take it out, or make a lesson of its own of what stands below it."
            yield Problem(start + first_line, 1, 1, what, mend, warning=True)


def _said_in_notes(
    tokens: Sequence[Token], said_by: Collection[int], first_line: int
) -> Iterator[Problem]:
    """Lines of notes that were surely meant to say something of their scene, or to hide some."""
    for before, token in pairwise(tokens):
        if before.type != "paragraph_open" or not token.map:
            continue
        for at, text in enumerate(token.content.split("\n"), start=token.map[0]):
            if "<!--" in text:
                what = "What stands between '<!--' and '-->' is shown, the blocks there too."
                yield Problem(at + first_line, 1, 1, what, _HIDE, warning=True)
            elif at not in said_by and (said := said_in_notes(text)):
                yield Problem(at + first_line, 1, 1, *said, warning=True)


def _hidden(lines: Sequence[str], first_line: int) -> Iterator[Problem]:
    """Words of a block that were surely meant to be seen by nobody."""
    for number, line in enumerate(lines, start=first_line):
        if "<!--" in line:
            what = "What stands between '<!--' and '-->' is shown."
            yield Problem(number, line.index("<!--") + 1, 4, what, _HIDE, warning=True)


def _too_small(heading: Draft) -> Problem:
    what = "This is a smaller heading, so it starts no scene."
    mend = f"Start the line with one '#': '# {heading.title}'."
    return Problem(heading.line, 1, 1, what, mend)


def _misleading(lines: Sequence[str], first_line: int) -> Iterator[Problem]:
    """Signs that nobody sees, in lines of which each is read for what it says."""
    for number, line in enumerate(lines, start=first_line):
        if found := misleading(line):
            what = stands_here(found[1])
            yield Problem(number, found[0] + 1, 1, what, "Take it out, or write the line anew.")


def _read_block(
    fence: Token, lines: list[str], first_line: int, problems: Problems
) -> Block | None:
    """The block that a marked fence is; None, with a problem told, where it is none."""
    start = fence.map[0] if fence.map else 0
    line = start + first_line
    written = fence.info.split()[0]
    kind = written.casefold()
    if fence.level == 0 and kind in BLOCKS:
        count = fence.content.count("\n")
        # As it stands in the file, so that the columns of problems are those of the file.
        inside = lines[start + 1 : start + 1 + count]
        rest = fence.info.split(maxsplit=1)[1:]
        if rest:
            what = f"What stands behind '{written}' in this line is not read."
            mend = "Write it in a line of its own, below."
            place = (line, lines[start].find(rest[0]) + 1 or 1, len(rest[0]))
            problems.append(Problem(*place, what, mend, warning=True))
        if kind in WITH_WORDS:
            problems += islice(_hidden(inside, line + 1), MOST_TOLD_ALIKE)
        if kind not in PROGRAMS:
            problems += islice(_misleading(inside, line + 1), MOST_TOLD_ALIKE)
        return Block(kind, line + 1, "\n".join(inside))
    if fence.level == 0:
        near = nearest(kind, BLOCKS)
        known = ", ".join(f"'{each}'" for each in BLOCKS)
        what = f"There is no block called '{written}'."
        mend = f"Did you mean '{near}'?" if near else f"The blocks are {known}."
    elif kind in BLOCKS and all(each.line != line for each in problems):
        what = f"This '{kind}' block stands in a list or a quotation, so it is only text."
        mend = "Start it at the left edge, with an empty line before it."
    else:
        return None
    column = len(lines[start]) - len(lines[start].lstrip()) + 1
    length = len(fence.markup + fence.info)
    problems.append(Problem(line, column, length, what, mend, warning=fence.level > 0))
    return None
