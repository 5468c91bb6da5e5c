"""The class is let in and shut out while a lesson runs, and is never taken for the teacher."""

from __future__ import annotations

import http.client
from pathlib import Path
from urllib.parse import urlencode, urlsplit

import pytest
from flask import Flask
from flask.testing import FlaskClient

from app import create_app
from app.web.follow.invitation import own_address
from app.web.rooms import Room
from app.web.sharing import FROM_CLASS, NoWay, Sharing, Way
from tests.asking import same_origin, teach, write_lesson
from tests.server import Server
from tests.web.test_access import OPEN, address, routes
from tests.web.test_stream import Reader

HOST = "10.0.0.5"
CLASS = {"environ_overrides": {FROM_CLASS: True, "REMOTE_ADDR": "10.0.0.9"}}


class Ways:
    """Makes ways in, and counts those that are open."""

    def __init__(self) -> None:
        self.open = 0

    def __call__(self) -> Way:
        self.open += 1
        return Way(f"http://{HOST}:8730/", frozenset({HOST}), self.close)

    def close(self) -> None:
        self.open -= 1


@pytest.fixture
def ways() -> Ways:
    return Ways()


@pytest.fixture
def web(tmp_path: Path, ways: Ways, monkeypatch: pytest.MonkeyPatch) -> Flask:
    monkeypatch.setattr("app.web.sharing.answers", lambda at: at == f"http://{HOST}:8730/")
    made = create_app(write_lesson(tmp_path))
    made.extensions["sharing"].opens = ways
    return made


@pytest.fixture
def teacher(web: Flask) -> FlaskClient:
    return web.test_client()


@pytest.fixture
def room(web: Flask, teacher: FlaskClient) -> Room:
    return teach(web, teacher)


def share(teacher: FlaskClient, room: Room, action: str = "open") -> str:
    answer = teacher.post(f"/board/{room.name}/share/{action}")
    assert answer.status_code == 200
    return answer.text


def test_the_address_comes_with_the_button_and_goes_with_it(
    teacher: FlaskClient, room: Room, ways: Ways
) -> None:
    page = teacher.get(f"/board/{room.name}").text
    assert "Let the class in" in page and HOST not in page and "--share" not in page
    shown = share(teacher, room)
    assert f"{HOST}:8730/" in shown and room.code in shown and "firewall" in shown
    assert "No other device has come yet" in shown
    # Once more opens no second one.
    share(teacher, room)
    assert ways.open == 1
    assert HOST in teacher.get(f"/board/{room.name}/invitation").text
    assert HOST not in share(teacher, room, "shut")
    assert ways.open == 0
    assert teacher.post(f"/board/{room.name}/share/nonsense").status_code == 404


def test_who_comes_by_the_class_s_way_is_no_teacher(
    web: Flask, teacher: FlaskClient, room: Room
) -> None:
    share(teacher, room)
    pupil = web.test_client()
    base = {"base_url": f"http://{HOST}:8730"}
    headers = {"Origin": base["base_url"]}
    before = room.session.view()
    for rule, method in routes(web):
        at = address(web, rule, room)
        answer = pupil.open(at, method=method, headers=headers, **base, **CLASS)
        answer.close()
        if rule.endpoint not in OPEN and rule.endpoint != "lessons.index":
            assert answer.status_code == 403, rule
    assert room.session.view() == before
    assert pupil.get("/", **base, **CLASS).location == "/join"
    assert pupil.get(f"/class/{room.code}", **base, **CLASS).status_code == 200


def test_the_class_s_way_knows_its_own_name_only(
    web: Flask, teacher: FlaskClient, room: Room
) -> None:
    share(teacher, room)
    client = web.test_client()
    assert client.get("/join", base_url=f"http://{HOST}:8730", **CLASS).status_code == 200
    assert client.get("/join", base_url="http://evil.example", **CLASS).status_code == 421
    # And the teacher's way does not know that of the class.
    assert client.get("/", base_url=f"http://{HOST}:8730").status_code == 421


def test_the_first_device_that_comes_is_told(web: Flask, teacher: FlaskClient, room: Room) -> None:
    share(teacher, room)
    sharing: Sharing = web.extensions["sharing"]
    web.test_client().get("/join", base_url=f"http://{HOST}", environ_overrides={FROM_CLASS: True})
    assert not sharing.reached, "this computer itself is no other device"
    web.test_client().get("/join", base_url=f"http://{HOST}:8730", **CLASS)
    assert sharing.reached
    assert "the way is free" in teacher.get(f"/board/{room.name}/teacher").text


def test_who_is_still_connected_is_told_that_the_class_is_shut_out(
    web: Flask, teacher: FlaskClient, room: Room
) -> None:
    """A browser keeps its connection: it was told that the address is another one."""
    share(teacher, room)
    pupil = web.test_client()
    base = {"base_url": f"http://{HOST}:8730"}
    assert pupil.get(f"/class/{room.code}", **base, **CLASS).status_code == 200
    teacher.post(f"/board/{room.name}/share/shut", headers=same_origin())
    refused = pupil.get(f"/class/{room.code}", **base, **CLASS)
    assert refused.status_code == 403 and "not let in" in refused.text
    # Whatever name it is asked for by, there is nothing to be had.
    assert pupil.get("/", base_url="http://evil.example", **CLASS).status_code == 403
    share(teacher, room)
    assert pupil.get(f"/class/{room.code}", **base, **CLASS).status_code == 200


@pytest.mark.parametrize("own", ["127.0.0.1", "::1", own_address() or "127.0.0.1"])
def test_by_whatever_name_this_computer_comes_it_is_no_other_device(own: str) -> None:
    """The class's address may be a name; letting the class in tries it from here."""
    sharing = Sharing("http://room7.local:8730/")
    sharing.comes(own)
    assert not sharing.reached
    sharing.comes("203.0.113.9")
    assert sharing.reached


def test_what_is_in_the_way_is_told(web: Flask, teacher: FlaskClient, room: Room) -> None:
    def none() -> Way:
        raise NoWay("This computer is in no network.")

    web.extensions["sharing"].opens = none
    assert "This computer is in no network." in share(teacher, room)
    assert "in no network" in teacher.get(f"/board/{room.name}/teacher").text


def test_an_address_without_an_answer_is_told(
    web: Flask, teacher: FlaskClient, room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("app.web.sharing.answers", lambda at: False)
    assert "gets no answer at the address" in share(teacher, room)


def test_a_server_that_was_shared_from_the_start_shuts_out_too(tmp_path: Path) -> None:
    key = "a-key-of-the-teacher-2"
    web = create_app(write_lesson(tmp_path), [HOST], teacher_key=key, address=f"http://{HOST}/")
    teacher, pupil = web.test_client(), web.test_client()
    teacher.get(f"/?key={key}")
    room = teach(web, teacher)
    stream = Reader(pupil.get(f"/class/{room.code}/stream").iter_encoded())
    stream.next_event()
    at = f"/board/{room.name}/share"
    assert teacher.post(f"{at}/shut", headers=same_origin()).status_code == 200
    with pytest.raises(StopIteration):
        stream.next_event()
    refused = pupil.get(f"/class/{room.code}")
    assert refused.status_code == 403 and "not let in" in refused.text
    assert teacher.get(f"/board/{room.name}").status_code == 200
    web.extensions["sharing"].let_in()
    assert pupil.get(f"/class/{room.code}").status_code == 200
    # A pupil does not let anybody in.
    assert pupil.post(f"{at}/open", headers=same_origin()).status_code == 403


def ask(at: str, method: str, path: str, **form: str) -> tuple[int, str]:
    """The real server, as a browser asks it."""
    host = urlsplit(at).netloc
    connection = http.client.HTTPConnection(host, timeout=20)
    headers = {"Content-Type": "application/x-www-form-urlencoded", "Origin": f"http://{host}"}
    try:
        connection.request(method, path, urlencode(form), headers)
        answer = connection.getresponse()
        return answer.status, answer.getheader("Location") or answer.read().decode()
    finally:
        connection.close()


def test_the_real_server(tmp_path: Path) -> None:
    """What this machine's own network says: either there is a way, or the teacher is told why
    not."""
    write_lesson(tmp_path)
    with Server(tmp_path) as server:
        _, board = ask(server.address, "POST", "/lessons/asking/teach")
        status, shown = ask(server.address, "POST", f"{board}/share/open")
        own = own_address()
        assert status == 200
        if own is None:
            assert "in no network" in shown
            return
        assert f"{own}:" in shown and "gets no answer" not in shown
        way = f"http://{own}:{server.port}"
        assert ask(way, "GET", "/") == (303, "/join")
        assert ask(way, "POST", f"{board}/forward")[0] == 403
        assert ask(server.address, "POST", f"{board}/forward")[0] == 204
        assert ask(server.address, "POST", f"{board}/share/shut")[0] == 200
        with pytest.raises(OSError):
            ask(way, "GET", "/join")
