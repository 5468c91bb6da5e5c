"""From a lesson file to a lesson.

A lesson file is Markdown: a header between two lines of ``---``, then scenes. Each ``#`` heading
starts a scene; the prose under it is the teacher's notes; fenced blocks marked ``program``,
``inputs`` and ``cues`` make the scene work. A scene without a program keeps the last one.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path

from app.machine.assembler import Program, assemble
from app.machine.problems import Problem, nearest
from app.machine.state import Ending
from app.machine.words import Format, parse_number

from .cues import Cue, read_cues
from .header import Header, read_header
from .model import Lesson, Scene
from .prose import read_blocks, to_html

LARGEST_FILE = 256 * 1024
MOST_SCENES = 60
MOST_INPUTS = 1000
BLOCKS = ("program", "inputs", "cues")

_RULE = re.compile(r"---\s*")


@dataclass(slots=True)
class _Block:
    kind: str
    line: int  # the line of the file that the block's text starts on
    text: str


@dataclass(slots=True)
class _Draft:
    title: str
    line: int
    tokens: list = field(default_factory=list)  # markdown tokens of the notes
    blocks: list[_Block] = field(default_factory=list)


def read_file(path: Path) -> Lesson:
    """Read a lesson file; what is wrong with it, unreadable bytes included, is in ``problems``.

    Raises OSError where the file cannot be opened.
    """
    size = path.stat().st_size
    if size > LARGEST_FILE:
        what = f"The file has {size} bytes."
        mend = f"A lesson file may have {LARGEST_FILE}; make two lessons of it."
        return Lesson(path.stem, Header(path.stem), (), (Problem(1, 1, 1, what, mend),))
    try:
        source = path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = path.read_bytes()[: error.start].count(b"\n") + 1
        what = "This line has bytes that are not UTF-8 text."
        mend = "Save the file as UTF-8 in your editor."
        return Lesson(path.stem, Header(path.stem), (), (Problem(line, 1, 1, what, mend),))
    return read_lesson(path.stem, source)


def read_lesson(slug: str, source: str) -> Lesson:
    """Read the text of a lesson. Never raises for what a person may write."""
    text = (
        source.replace("\r\n", "\n").replace("\r", "\n").replace("\0", "\N{REPLACEMENT CHARACTER}")
    )
    problems: list[Problem] = []
    header, body, first_line = _read_head(slug, text, problems)
    drafts = _read_scenes(body, first_line, problems)
    scenes: list[Scene] = []
    program = Program(header.format, "")
    inputs: tuple[int, ...] = ()
    for draft in drafts[:MOST_SCENES]:
        scene = _make_scene(draft, header, program, inputs, problems)
        program, inputs = scene.program, scene.inputs
        scenes.append(scene)
    if len(drafts) > MOST_SCENES:
        what = f"The lesson has {len(drafts)} scenes."
        mend = f"A lesson may have {MOST_SCENES}; make two lessons of it."
        problems.append(Problem(drafts[MOST_SCENES].line, 1, 1, what, mend))
    if not any(not each.warning for each in problems):
        problems += [warning for scene in scenes for warning in _warnings(scene)]
    return Lesson(slug, header, tuple(scenes), tuple(sorted(problems)), source)


def _read_head(slug: str, text: str, problems: list[Problem]) -> tuple[Header, str, int]:
    """The header, the text after it, and the line of the file that this text starts on."""
    lines = text.split("\n")
    if not _RULE.fullmatch(lines[0]):
        what = "The file does not start with a header."
        mend = "Start with a line of '---', then 'title: The name of the lesson', then '---'."
        problems.append(Problem(1, 1, max(len(lines[0]), 1), what, mend))
        return Header(slug), text, 1
    end = next((at for at, each in enumerate(lines[1:], 1) if _RULE.fullmatch(each)), None)
    if end is None:
        what = "The header has no end."
        problems.append(Problem(1, 1, 3, what, "Write a line of '---' after its last line."))
        return Header(slug), "", len(lines)
    fields, found = read_header("\n".join(lines[1:end]), 2)
    problems += found
    if "title" not in fields and not any("'title'" in each.what for each in found):
        what = "The header has no title."
        mend = "Add a line 'title: The name of the lesson'."
        problems.append(Problem(1, 1, 3, what, mend))
    return Header(**({"title": slug} | fields)), "\n".join(lines[end + 1 :]), end + 2


def _read_scenes(body: str, first_line: int, problems: list[Problem]) -> list[_Draft]:
    drafts: list[_Draft] = []
    tokens = read_blocks(body)
    at = 0
    while at < len(tokens):
        token = tokens[at]
        line = (token.map[0] if token.map else 0) + first_line
        if token.type == "heading_open" and token.tag == "h1":
            drafts.append(_Draft(tokens[at + 1].content, line))
            if not tokens[at + 1].content.strip():
                what = "This scene has no name."
                problems.append(Problem(line, 1, 1, what, "Write its name after the '#'."))
            at += 3
            continue
        if token.type == "fence" and token.level == 0 and token.info.strip():
            kind = token.info.split()[0].casefold()
            if kind not in BLOCKS:
                near = nearest(kind, BLOCKS)
                what = f"There is no block called '{kind}'."
                known = ", ".join(f"'{each}'" for each in BLOCKS)
                mend = f"Did you mean '{near}'?" if near else f"The blocks are {known}."
                problems.append(Problem(line, 1, len(token.markup + token.info), what, mend))
            elif not drafts:
                what = f"This '{kind}' block stands before the first scene."
                mend = "Start the scene with a line '# The name of the scene' above it."
                problems.append(Problem(line, 1, len(token.markup + token.info), what, mend))
            else:
                drafts[-1].blocks.append(_Block(kind, line + 1, token.content))
        elif drafts:
            drafts[-1].tokens.append(token)
        at += 1
    if not drafts:
        what = "The lesson has no scene."
        mend = "Start one with a line '# The name of the scene'."
        problems.append(Problem(first_line, 1, 1, what, mend))
    return drafts


def _make_scene(
    draft: _Draft,
    header: Header,
    program: Program,
    inputs: tuple[int, ...],
    problems: list[Problem],
) -> Scene:
    cues: list[Cue] = []
    seen: dict[str, int] = {}
    for block in draft.blocks:
        if block.kind in seen and block.kind != "cues":
            what = f"The scene '{draft.title}' has a second '{block.kind}' block."
            mend = f"Put it in one block (the first is on line {seen[block.kind]}), or start a new"
            mend += " scene."
            problems.append(Problem(block.line - 1, 1, 3, what, mend))
            continue
        seen[block.kind] = block.line - 1
        if block.kind == "program":
            program = assemble(header.format, block.text)
            problems += [each.moved(block.line - 1) for each in program.problems]
            if not program.words and not program.problems:
                what = "The program is empty."
                mend = "Write an instruction on each line, with HALT as the last."
                problems.append(Problem(block.line, 1, 1, what, mend))
            if "inputs" not in seen:
                inputs = ()
        elif block.kind == "inputs":
            inputs = _read_inputs(header.format, block, problems)
        else:
            found, wrong = read_cues(block.text, block.line)
            cues += found
            problems += wrong
    notes = to_html(draft.tokens)
    return Scene(draft.title, draft.line, notes, program, inputs, header.limit, tuple(cues))


def _read_inputs(format: Format, block: _Block, problems: list[Problem]) -> tuple[int, ...]:
    """The values that arrive: numbers set apart by commas, spaces or lines."""
    values: list[int] = []
    for number, line in enumerate(block.text.splitlines(), start=block.line):
        for found in re.finditer(r"[^\s,]+", line.split(";", 1)[0]):
            text, column = found[0], found.start() + 1
            try:
                value = parse_number(text)
            except ValueError as error:
                what, _, mend = str(error).partition("; ")
                problems.append(Problem(number, column, len(text), f"{what}.", _sentence(mend)))
                continue
            if not format.fits(value):
                what = f"The input {value} does not fit a word of {format.word_bits} bits."
                mend = f"Use a number from {format.smallest} to {format.largest}."
                problems.append(Problem(number, column, len(text), what, mend))
            values.append(format.pattern(value))
    if len(values) > MOST_INPUTS:
        what = f"There are {len(values)} inputs."
        problems.append(Problem(block.line, 1, 1, what, f"A scene may have {MOST_INPUTS}."))
    return tuple(values[:MOST_INPUTS])


def _sentence(words: str) -> str:
    return f"{words[0].upper()}{words[1:]}." if words else ""


def _warnings(scene: Scene) -> list[Problem]:
    """What is allowed but surely not meant, found by running the scene."""
    if not scene.program.words:
        return []
    found = [
        Problem(
            cue.line,
            cue.column,
            len(cue.text),
            f"The run of '{scene.title}' never comes to '{cue.text}', so this cue is never shown.",
            f"The run has {scene.run.last_step} steps; change the cue or the program.",
            warning=True,
        )
        for cue in scene.cue_sheet.unused
    ]
    scene.run.finish()
    if scene.run.ending is Ending.LIMIT:
        what = f"The program of '{scene.title}' has not stopped after {scene.limit} instructions."
        mend = "If it should stop, look at its jumps; else set a smaller 'limit' in the header."
        found.append(Problem(scene.line, 1, 1, what, mend, warning=True))
    return found
