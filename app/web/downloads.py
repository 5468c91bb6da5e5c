"""Files to keep, sent under a name that every browser and every script can read."""

from __future__ import annotations

import re
import unicodedata
from urllib.parse import quote

from flask import Response
from werkzeug.http import dump_options_header

from app.machine.source.problems import printable

# A file's name may have 255 bytes on most systems, and its ending is the last to do without.
_LONGEST_NAME = 60


def download(text: str, kind: str, about: str, ending: str) -> Response:
    """A text of some media type, to be kept as the file ``about`` with an ``ending``.

    A header has only Latin letters, so the name stands there twice (RFC 6266): without accents for
    who knows no better, and in full.
    """
    name = printable(about)[:_LONGEST_NAME] + ending
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode("ascii")
    plain = re.sub(r"[^\w.-]+", "-", plain)
    if plain == ending or not re.search(r"\w", plain.removesuffix(ending)):
        plain = "lesson" + ending
    response = Response(text, mimetype=kind)
    in_full = {} if plain == name else {"filename*": f"UTF-8''{quote(name, safe='')}"}
    response.headers["Content-Disposition"] = dump_options_header(
        "attachment", {"filename": plain, **in_full}
    )
    return response
