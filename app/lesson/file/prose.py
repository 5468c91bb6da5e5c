"""Lesson prose: CommonMark to HTML, with raw HTML shown as text and only safe links."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from typing import Any, NamedTuple

from markdown_it import MarkdownIt
from markdown_it.common.utils import escapeHtml
from markdown_it.rules_block import StateBlock
from markdown_it.rules_core import StateCore
from markdown_it.rules_inline import StateInline
from markdown_it.token import Token
from markdown_it.utils import EnvType, OptionsDict

from app.machine.source.problems import Problem

# 'js-default' is CommonMark with tables; html off makes a tag in the prose plain text, and the
# library's own link check refuses javascript:, vbscript:, file: and most data: targets.
# Brackets in brackets are looked through at every depth, and nobody writes a dozen.
_MARKDOWN = MarkdownIt("js-default", {"html": False, "linkify": False, "maxNesting": 12})

# What is read of a text that would take too long: headings, blocks, and the rest as it is written.
_PLAIN = MarkdownIt("zero").enable(["heading", "fence"])
# A rule of Markdown may look through a text to its end for what belongs to one quotation, and then
# do so again for the next. So what they do is counted: each call of a rule looks at a line or so.
# A bracket may start a link, and what might be its text and its address is looked through.
# No text that somebody wrote needs a tenth of these.
MOST_CALLS = 60_000
CALLS_OF_BRACKET = 30
# A table is made in one call, and a row of it has as many cells as its head, written or not.
CALLS_OF_CELL = 4
_CALLS = "calls"
_LINE = "line"

# What a page may show: nothing is fetched from elsewhere, and no file beside the lesson is served.
_SEEN = "data:image/"


def _picture(
    renderer: Any, tokens: Sequence[Token], at: int, options: OptionsDict, env: EnvType
) -> str:
    """A picture, or what its writer says that it shows where it cannot be seen."""
    if _is_seen(tokens[at]):
        return str(renderer.image(tokens, at, options, env))
    return escapeHtml(f"[{tokens[at].content or 'a picture'}]")


_MARKDOWN.add_render_rule("image", _picture)


def _is_seen(picture: Token) -> bool:
    return str(picture.attrGet("src") or "").startswith(_SEEN)


def unseen_pictures(tokens: Sequence[Token]) -> Iterator[range]:
    """The lines (from 0) of each paragraph that has a picture which nobody will see."""
    for token in tokens:
        for inner in token.children or ():
            if inner.type == "image" and not _is_seen(inner):
                yield range(*(token.map or (0, 1)))
                break


class _TooLong(Exception):
    """Reading takes too long, and had come to this line (from 0)."""

    def __init__(self, line: int) -> None:
        super().__init__("a text that takes too long to be read")
        self.line = line


class Calls:
    """How many calls of rules are left for all the prose of a lesson."""

    def __init__(self) -> None:
        self.left = MOST_CALLS


def _count(env: EnvType, calls: int, line: int) -> None:
    env[_CALLS].left -= calls
    if env[_CALLS].left < 0:
        raise _TooLong(line)


def _counted(rule: Callable[..., bool]) -> Callable[..., bool]:
    def counted(state: StateBlock, line: int, end: int, silent: bool) -> bool:
        _count(state.env, 1, line)
        return rule(state, line, end, silent)

    return counted


def _counted_table(rule: Callable[..., bool]) -> Callable[..., bool]:
    def counted(state: StateBlock, line: int, end: int, silent: bool) -> bool:
        _count(state.env, 1 if silent else 1 + CALLS_OF_CELL * _cells(state, line, end), line)
        return rule(state, line, end, silent)

    return counted


def _cells(state: StateBlock, line: int, end: int) -> int:
    """How many cells a table has, or more, that starts at a line; 0 where none does."""
    if line + 1 >= end:
        return 0
    below = state.src[state.bMarks[line + 1] + state.tShift[line + 1] : state.eMarks[line + 1]]
    if "-" not in below or set(below) - set("|-: \t"):
        return 0
    rows = 0
    for each in range(line + 2, end):
        # Where the quotation or the list ends that it stands in, it does, too.
        if state.isEmpty(each) or state.sCount[each] < state.blkIndent:
            break
        rows += 1
    return rows * (below.count("|") + 1)


def _counted_bracket(rule: Callable[..., bool]) -> Callable[..., bool]:
    def counted(state: StateInline, silent: bool) -> bool:
        if state.src[state.pos] in "[!":
            _count(state.env, CALLS_OF_BRACKET, state.env[_LINE])
        return rule(state, silent)

    return counted


def _inline(state: StateCore) -> None:
    """Paragraphs, as the library reads them, but that it is known which one is read."""
    for token in state.tokens:
        if token.type == "inline":
            state.env[_LINE] = token.map[0] if token.map else 0
            token.children = token.children or []
            state.md.inline.parse(token.content, state.md, state.env, token.children)


for _rule in [*_MARKDOWN.block.ruler.__rules__]:
    _counts = _counted_table if _rule.name == "table" else _counted
    _MARKDOWN.block.ruler.at(_rule.name, _counts(_rule.fn), {"alt": _rule.alt})
for _each in [*_MARKDOWN.inline.ruler.__rules__]:
    if _each.name in ("link", "image"):
        _MARKDOWN.inline.ruler.at(_each.name, _counted_bracket(_each.fn))
_MARKDOWN.core.ruler.at("inline", _inline)


def read_blocks(
    text: str,
    tell_too_long: Callable[[int], None] = lambda line: None,
    calls: Calls | None = None,
) -> list[Token]:
    """The block tokens of a Markdown text, with their line ranges (from 0). One that would take too
    long, or for which no ``calls`` are left, is read as headings, blocks and plain paragraphs; the
    line that was come to is told."""
    try:
        return _MARKDOWN.parse(text, {_CALLS: calls or Calls()})
    except _TooLong as error:
        tell_too_long(error.line)
        return _PLAIN.parse(text)


class BlockToken(NamedTuple):
    """Of a block token what says where it stands: ``lines`` from the first to the one after the
    last, None for none."""

    type: str
    tag: str
    level: int
    lines: tuple[int, int] | None
    info: str


# Of the texts that were read last: whoever writes in one asks for it again and again.
_OUTLINES: deque[tuple[str, tuple[BlockToken, ...]]] = deque(maxlen=4)


def keep_outline(text: str, tokens: Sequence[Token]) -> tuple[BlockToken, ...]:
    """Keep where the blocks of a text stand, which has been read."""
    made = tuple(
        BlockToken(
            each.type,
            each.tag,
            each.level,
            (each.map[0], each.map[1]) if each.map else None,
            each.info,
        )
        for each in tokens
    )
    _OUTLINES.append((text, made))
    return made


def outline_of(text: str) -> tuple[BlockToken, ...]:
    """Where the blocks of a text stand, as :func:`read_blocks` has them."""
    for known, made in [*_OUTLINES]:
        if known == text:
            return made
    return keep_outline(text, read_blocks(text))


def too_long(what: str, line: int) -> Problem:
    """The warning that a text was not read as Markdown; ``what`` it is, as in 'notes'."""
    said = f"The {what} takes too long to be read, so it is shown as it is written."
    if what.endswith("s"):
        said = f"The {what} take too long to be read, so they are shown as they are written."
    mend = (
        "Around here, put empty lines between quotations ('>') and what follows them, fewer"
        " square brackets, and smaller tables."
    )
    return Problem(line, 1, 1, said, mend, warning=True)


def to_html(tokens: Sequence[Token]) -> str:
    """HTML of some of the tokens of :func:`read_blocks`."""
    return _MARKDOWN.renderer.render(list(tokens), _MARKDOWN.options, {})
