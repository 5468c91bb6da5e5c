"""Pages and files travel compressed: a whole class may load them over one radio at once.

Streams are not: a frame is small, and each must leave as soon as it is there.
"""

from __future__ import annotations

import gzip
from functools import lru_cache

from flask import Flask, Response, request

# Pictures of other kinds are compressed already.
TYPES = frozenset(
    {
        "application/javascript",
        "application/json",
        "image/svg+xml",
        "text/css",
        "text/csv",
        "text/html",
        "text/javascript",
        "text/plain",
    }
)
SMALLEST = 500
# A larger one (a replay, say) would hold up everybody while it is worked on.
LARGEST = 1024 * 1024
LEVEL = 6
# What a browser says of this has some twenty letters. More is not taken apart, for every answer.
LONGEST_SAID = 200


def compress(app: Flask) -> None:
    """Compress what the app answers to whoever says that they can read it."""
    app.after_request(_compressed)


def _compressed(response: Response) -> Response:
    if response.mimetype not in TYPES or "Content-Encoding" in response.headers:
        return response
    response.vary.add("Accept-Encoding")
    size = response.content_length
    if (
        response.status_code != 200
        or request.method == "HEAD"
        or not _is_read()
        or size is None
        or not SMALLEST <= size <= LARGEST
    ):
        return response
    # A file would otherwise be sent as it lies on the disk.
    response.direct_passthrough = False
    data = response.get_data()
    tag = response.get_etag()[0]
    # What has a tag is asked for by every page: the work is done once.
    small = _kept(data) if tag else gzip.compress(data, LEVEL, mtime=0)
    response.set_data(small)
    response.headers["Content-Encoding"] = "gzip"
    if tag:
        # The same content in other bytes, which a tag must say.
        response.set_etag(tag, weak=True)
    return response


def _is_read() -> bool:
    """Whether who asks can read it compressed."""
    said = request.headers.get("Accept-Encoding", "")
    return len(said) <= LONGEST_SAID and request.accept_encodings["gzip"] > 0


@lru_cache(maxsize=64)
def _kept(data: bytes) -> bytes:
    return gzip.compress(data, LEVEL, mtime=0)
