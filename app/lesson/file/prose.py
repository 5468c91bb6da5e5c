"""Lesson prose: CommonMark to HTML, with raw HTML shown as text and only safe links."""

from __future__ import annotations

from collections.abc import Sequence

from markdown_it import MarkdownIt
from markdown_it.token import Token

# 'js-default' is CommonMark with tables; html off makes a tag in the prose plain text, and the
# library's own link check refuses javascript:, vbscript:, file: and most data: targets.
_MARKDOWN = MarkdownIt("js-default", {"html": False, "linkify": False})


def read_blocks(text: str) -> list[Token]:
    """The block tokens of a Markdown text, with their line ranges (from 0)."""
    return _MARKDOWN.parse(text)


def to_html(tokens: Sequence[Token]) -> str:
    """HTML of some of the tokens of :func:`read_blocks`."""
    return _MARKDOWN.renderer.render(list(tokens), _MARKDOWN.options, {})
