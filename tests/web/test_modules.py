"""A page names every module that its script asks for, so that none is found out later."""

from __future__ import annotations

import re
from collections.abc import Callable
from urllib.parse import urljoin

import pytest
from flask.testing import FlaskClient


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
def test_every_module_is_named_beside_the_script(
    client: FlaskClient, address: Callable[[FlaskClient], str]
) -> None:
    page = client.get(address(client), follow_redirects=True)
    assert page.status_code == 200
    (script,) = re.findall(r'<script type="module" src="([^"]+)"', page.text)
    named = re.findall(r'<link rel="modulepreload" href="([^"]+)"', page.text)
    assert len(named) > 2
    assert sorted(named) == sorted(asked_for(client, script) - {script})


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
