"""What is downloaded has the lesson's name, whatever script that is in: asked of the real server,
for a header that it cannot send is found nowhere else."""

from __future__ import annotations

import csv
import html
import http.client
import io
import re
import unicodedata
from collections.abc import Iterator
from urllib.parse import quote, unquote

import pytest
from flask import Flask

from app.web.downloads import download, table
from tests.asking import ASKING
from tests.server import Server

NAMES = (
    "tickets",
    "caf\N{LATIN SMALL LETTER E WITH ACUTE}",
    unicodedata.normalize("NFD", "caf\N{LATIN SMALL LETTER E WITH ACUTE} on the way"),
    "\N{GREEK CAPITAL LETTER OMEGA}",
    "\N{HIRAGANA LETTER NE}\N{HIRAGANA LETTER KO}",
    "\N{CYRILLIC SMALL LETTER YA} 2",
    "\N{ARABIC LETTER ALEF}\N{ARABIC LETTER BEH}",
    "\N{GRINNING FACE}",
    "it's; a \"b\" 50% \\ #1?",
    "-",
    "\N{HIRAGANA LETTER NE}" * 70,
)  # fmt: skip


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    folder = tmp_path_factory.mktemp("names")
    for name in NAMES:
        (folder / f"{name}.md").write_text(ASKING, encoding="utf-8")
    with Server(folder) as made:
        yield made


def asked(server: Server, method: str, path: str) -> tuple[http.client.HTTPResponse, bytes]:
    connection = http.client.HTTPConnection("127.0.0.1", server.port, timeout=60)
    try:
        connection.request(method, path)
        answer = connection.getresponse()
        return answer, answer.read()
    finally:
        connection.close()


def names_of(answer: http.client.HTTPResponse) -> tuple[str, str]:
    """The plain name of a download and the one in full (RFC 6266, encoded as in RFC 8187)."""
    header = answer.headers["Content-Disposition"]
    found = re.fullmatch(
        r"attachment; filename=([\w.-]+)(?:; filename\*=UTF-8''([^\s;]+))?", header
    )
    assert found and header.isascii(), header
    return found[1], unquote(found[2] or found[1], errors="strict")


@pytest.mark.parametrize("name", NAMES)
def test_every_download(server: Server, name: str) -> None:
    slug = quote(name, safe="")
    listed, page = asked(server, "GET", "/")
    links = re.findall(r'href="/paper/([^"/]*)"', page.decode())
    assert listed.status == 200 and name in [unquote(html.unescape(each)) for each in links]
    taught, _ = asked(server, "POST", f"/lessons/{slug}/teach")
    assert taught.status == 303
    room = taught.headers["Location"].rsplit("/", 1)[1]
    for path, ending in (
        (f"/paper/{slug}/trace.csv", r"-scene-1-trace\.csv"),
        (f"/paper/{slug}/replay.html", r"-replay\.html"),
        (f"/results/{room}.csv", r"-[0-9]{4}-[0-9]{2}-[0-9]{2}\.csv"),
    ):
        answer, data = asked(server, "GET", path)
        assert answer.status == 200 and data, path
        plain, whole = names_of(answer)
        assert re.fullmatch(re.escape(name[:60]) + ending, whole)
        assert re.fullmatch(r"[\w-].*" + ending, plain)


@pytest.mark.parametrize(
    ("about", "ending", "plain", "whole"),
    [
        ("con", ".zip", "lesson-con.zip", "lesson-con.zip"),
        ("nul.b", "-quiz.csv", "lesson-nul.b-quiz.csv", "lesson-nul.b-quiz.csv"),
        ("con", "-quiz.csv", "con-quiz.csv", "con-quiz.csv"),
        # Of wide letters only the plain name would be a device's.
        ("ＣＯＮ.b", "-quiz.csv", "lesson-CON.b-quiz.csv", "ＣＯＮ.b-quiz.csv"),
    ],
)
def test_no_download_has_the_name_of_a_device(
    about: str, ending: str, plain: str, whole: str
) -> None:
    header = download("x", "text/plain", about, ending).headers["Content-Disposition"]
    found = re.fullmatch(r"attachment; filename=([^;]+)(?:; filename\*=UTF-8''(.+))?", header)
    assert found and (found[1], unquote(found[2] or found[1])) == (plain, whole)


def test_every_page_of_every_name(server: Server) -> None:
    for name in NAMES:
        slug = quote(name, safe="")
        for path in (f"/lessons/{slug}/preview", f"/paper/{slug}/plan", f"/explore/{slug}/1"):
            answer, data = asked(server, "GET", path)
            assert answer.status == 200 and data, path


@pytest.mark.parametrize("sign", [*"=+-@\t\r\n", "\uff1d", "\uff0b", "\uff0d", "\uff20"])
def test_no_cell_is_a_formula(sign: str) -> None:
    """What a lesson says comes from a file that may be a stranger's, and the table is opened where
    it is trusted. (OWASP, 'CSV Injection', has these signs, the wide ones too.)"""
    with Flask(__name__).test_request_context():
        text = table([[f"{sign}1+1", "1=1", "-5", ""]], "a", ".csv").get_data(as_text=True)
    (row,) = csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline=""))
    assert row == [f"'{sign}1+1", "1=1", "-5", ""]
