"""Lesson prose: CommonMark to HTML, with raw HTML shown as text and only safe links."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from markdown_it import MarkdownIt
from markdown_it.common.utils import escapeHtml
from markdown_it.token import Token
from markdown_it.utils import EnvType, OptionsDict

# 'js-default' is CommonMark with tables; html off makes a tag in the prose plain text, and the
# library's own link check refuses javascript:, vbscript:, file: and most data: targets.
# Brackets in brackets are looked through at every depth, and nobody writes a dozen.
_MARKDOWN = MarkdownIt("js-default", {"html": False, "linkify": False, "maxNesting": 12})

# A quotation is looked for to the next empty line. Where something ends it before, the next one is
# so again: of very many, none is taken for one.
_UNQUOTED = MarkdownIt("js-default", {"html": False, "linkify": False, "maxNesting": 12})
_UNQUOTED.disable("blockquote")
# So many lines may be looked through for that: as many as where each of 600 lines on end begins one.
_MOST_LOOKED_THROUGH = 360_000
# What stands in front of a quotation, and its own signs.
_SIGNS = " \t>-+*.)0123456789"

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


def read_blocks(text: str) -> list[Token]:
    """The block tokens of a Markdown text, with their line ranges (from 0). Where it is
    :func:`too_quoted`, quotations are read as they are written."""
    return (_MARKDOWN if too_quoted(text) is None else _UNQUOTED).parse(text)


def too_quoted(text: str) -> int | None:
    """The first line (from 0) of a paragraph with which a text has too many lines that may begin a
    quotation; None where it has not."""
    looked_through = start = quotations = 0
    for number, line in enumerate([*text.split("\n"), ""]):
        if not line.strip(" \t"):
            looked_through += quotations * (number - start)
            if looked_through > _MOST_LOOKED_THROUGH:
                return start
            start, quotations = number + 1, 0
        # At most so many begin here.
        quotations += line[: len(line) - len(line.lstrip(_SIGNS))].count(">")
    return None


def to_html(tokens: Sequence[Token]) -> str:
    """HTML of some of the tokens of :func:`read_blocks`."""
    return _MARKDOWN.renderer.render(list(tokens), _MARKDOWN.options, {})
