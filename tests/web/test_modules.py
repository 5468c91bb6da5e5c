"""A page that shows the board has one script and one style sheet, and none is found out later."""

from __future__ import annotations

import re
from collections.abc import Callable
from urllib.parse import urljoin

import pytest
from flask.testing import FlaskClient

from app.paths import resource


def board(client: FlaskClient) -> str:
    return client.post("/lessons/short/teach").location


def pupil(client: FlaskClient) -> str:
    found = re.search(r"/class/\w+", client.get(board(client)).text)
    assert found
    return found[0]


@pytest.mark.parametrize(
    "address",
    [board, pupil, lambda client: "/explore/short/1", lambda client: "/lessons/short/preview"],
    ids=["board", "pupil", "explore", "preview"],
)
def test_there_is_one_script_and_it_asks_for_no_other(
    client: FlaskClient, address: Callable[[FlaskClient], str]
) -> None:
    page = client.get(address(client), follow_redirects=True)
    assert page.status_code == 200
    (script,) = re.findall(r'<script\b[^>]* src="([^"]+)"', page.text)
    (sheet,) = re.findall(r'<link rel="stylesheet" href="([^"]+)"', page.text)
    assert asked_for(client, script) == {script}
    assert len(re.findall(r"<script\b", page.text)) == 1
    assert "@import" not in client.get(sheet).text


def asked_for(client: FlaskClient, script: str) -> set[str]:
    """The addresses that a browser asks for on account of a script, one after another, however
    the imports are written (ECMAScript, section 'Imports': a clause and 'from', or a name alone).
    """
    found: set[str] = set()
    new = {script}
    while new:
        asked = new.pop()
        answer = client.get(asked)
        assert answer.status_code == 200, asked
        found.add(asked)
        names = re.findall(r"^\s*import\b[^'\";]*['\"]([^'\"]+)", answer.text, re.MULTILINE)
        names += re.findall(r"^\s*export\b[^'\";=(]*\bfrom\s*['\"]([^'\"]+)", answer.text, re.M)
        new |= {urljoin(asked, name) for name in names} - found
    return found


def test_the_script_is_htmx_and_every_module_that_is_imported(client: FlaskClient) -> None:
    """Nothing is left out: what the page asked for when it loaded modules is all in it."""
    whole = client.get("/pages/board.js").text
    htmx = client.get("/htmx/htmx-4.min.js").text
    assert whole.startswith(htmx) and client.get("/htmx/ext/hx-sse-4.min.js").text in whole
    modules = asked_for(client, "/static/js/teach/board.js")
    assert len(modules) > 10
    for module in modules:
        (first,) = re.findall(r"\A/\*(.*?)\*/", client.get(module).text, re.DOTALL)
        assert first in whole, module


def test_the_sheet_has_every_sheet_of_the_page_in_order(client: FlaskClient) -> None:
    whole = client.get("/pages/board/8-bit.css").text
    names = ("base", "board", "classroom", "forced-colours")
    at = [whole.index(client.get(f"/static/css/{each}.css").text) for each in names]
    assert at == sorted(at) and "--unit" in whole and len(whole) > sum(at[:1])
    assert whole != client.get("/pages/board/16-bit.css").text


def test_one_module_alone_asks_the_browser_to_keep_something() -> None:
    """It may refuse, at the first look at it: that one module knows what to do then."""
    folder = resource("static") / "js"
    asks = {each.name for each in folder.rglob("*.js") if "Storage" in each.read_text("utf-8")}
    assert asks == {"kept.js"}
