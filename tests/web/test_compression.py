"""What travels compressed, and that it is the same when it is unpacked (by zlib, not by us)."""

from __future__ import annotations

import zlib
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from app import create_app
from tests.asking import write_lesson

ASKS = {"Accept-Encoding": "gzip, deflate"}
FILES = ("/static/css/board.css", "/static/js/teach/board.js", "/static/icon.svg")
OF_THE_BOARD = (*FILES, "/pages/board.js", "/pages/board/8-bit.css", "/")


@pytest.fixture
def client(tmp_path: Path) -> FlaskClient:
    return create_app(write_lesson(tmp_path)).test_client()


def unpacked(data: bytes) -> bytes:
    return zlib.decompress(data, wbits=31)


@pytest.mark.parametrize("address", OF_THE_BOARD)
def test_a_page_and_its_files_are_the_same_unpacked(client: FlaskClient, address: str) -> None:
    plain, packed = client.get(address), client.get(address, headers=ASKS)
    assert "Content-Encoding" not in plain.headers
    assert "Accept-Encoding" in plain.vary and "Accept-Encoding" in packed.vary
    if plain.content_length < 500:
        assert "Content-Encoding" not in packed.headers and packed.data == plain.data
        return
    assert packed.headers["Content-Encoding"] == "gzip"
    assert packed.content_length == len(packed.data) < len(plain.data)
    assert unpacked(packed.data) == plain.data
    assert packed.headers["Content-Security-Policy"] == plain.headers["Content-Security-Policy"]


# The last one is a list to be taken apart for every answer, by a pupil who asks without end.
@pytest.mark.parametrize(
    "accepts", ["", "identity", "br", "gzip;q=0", "*;q=0", "gzip, " + "a;q=0.1, " * 500]
)
def test_who_does_not_read_it_gets_it_plain(client: FlaskClient, accepts: str) -> None:
    answer = client.get(FILES[0], headers={"Accept-Encoding": accepts})
    assert answer.status_code == 200 and "Content-Encoding" not in answer.headers
    assert b"{" in answer.data


def test_a_file_that_is_known_is_not_sent_again(client: FlaskClient) -> None:
    packed = client.get(FILES[0], headers=ASKS)
    tag = packed.headers["ETag"]
    assert tag.startswith('W/"')
    again = client.get(FILES[0], headers=ASKS | {"If-None-Match": tag})
    assert again.status_code == 304 and not again.data


def test_a_part_of_a_file_and_a_head_are_as_they_were(client: FlaskClient) -> None:
    part = client.get(FILES[0], headers=ASKS | {"Range": "bytes=0-599"})
    assert part.status_code == 206 and "Content-Encoding" not in part.headers
    assert len(part.data) == 600
    head = client.head(FILES[0], headers=ASKS)
    assert head.status_code == 200 and "Content-Encoding" not in head.headers


def test_a_stream_is_not_held_up(client: FlaskClient) -> None:
    board = client.post("/lessons/asking/teach").location
    answer = client.get(f"{board}/stream", headers=ASKS)
    assert "Content-Encoding" not in answer.headers
    assert b'id="frame"' in b"".join(
        data for _, data in zip(range(2), answer.iter_encoded(), strict=False)
    )
    answer.close()
