"""Files to keep, sent under a name that every browser and every script can read."""

from __future__ import annotations

import csv
import io
import re
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from urllib.parse import quote

from flask import Response
from werkzeug.http import dump_options_header

from app.lesson.writing.folder import kept_by_nobody
from app.machine.source.problems import printable

# A file's name may have 255 bytes on most systems, and its ending is the last to do without.
_LONGEST_NAME = 60
# What makes a formula of a cell: the usual signs, their wide forms where the system is Japanese,
# and what some take away before they look.
_STARTS = "=+-@\uff1d\uff0b\uff0d\uff20\t\r\n"


def table(rows: Iterable[Sequence[str | int]], about: str, ending: str) -> Response:
    """Rows as a table for a spreadsheet, to be kept as the file ``about`` with an ``ending``."""
    lines = io.StringIO()
    csv.writer(lines).writerows([_as_text(each) for each in row] for row in rows)
    # The mark at the start tells spreadsheets that this is UTF-8.
    text = "\N{ZERO WIDTH NO-BREAK SPACE}" + lines.getvalue()
    return download(text, "text/csv", about, ending)


def _as_text(cell: str | int) -> str | int:
    """Words that a spreadsheet takes for a number if they are one, and never for a formula."""
    if isinstance(cell, int):
        return cell
    plain = cell.replace("\N{MINUS SIGN}", "-")
    if re.fullmatch(r"[-+]?[0-9]+", plain):
        return plain
    return f"'{cell}" if cell[:1] and cell[0] in _STARTS else cell


def download(
    content: str | bytes | Iterator[bytes], kind: str, about: str, ending: str
) -> Response:
    """What is of some media type, whole or in pieces, to be kept as the file ``about`` with an
    ``ending``.

    A header has only Latin letters, so the name stands there twice (RFC 6266): without accents for
    who knows no better, and in full.
    """
    name = kept_by_nobody(printable(about)[:_LONGEST_NAME] + ending)
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode("ascii")
    plain = kept_by_nobody(re.sub(r"[^\w.-]+", "-", plain))
    if plain == ending or not re.search(r"\w", plain.removesuffix(ending)):
        plain = "lesson" + ending
    response = Response(content, mimetype=kind)
    in_full = {} if plain == name else {"filename*": f"UTF-8''{quote(name, safe='')}"}
    response.headers["Content-Disposition"] = dump_options_header(
        "attachment", {"filename": plain, **in_full}
    )
    return response
