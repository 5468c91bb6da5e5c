"""Who may do what: a pupil tries every route, other sites try to send, programs ask too much."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import NoReturn

import pytest
from flask import Flask
from flask.testing import FlaskClient
from markupsafe import escape
from werkzeug.exceptions import default_exceptions
from werkzeug.http import HTTP_STATUS_CODES
from werkzeug.routing import Rule

from app import create_app
from app.classroom.tokens import cookie_name
from app.web import access
from app.web.rooms import Room
from tests.asking import STEP, same_origin, teach, write_lesson

KEY = "a-key-of-the-teacher-1"
# What pupils may use, one by one. A route that is not here belongs to the teacher: whoever adds
# one for pupils adds it here too, and thinks about it.
OPEN = {
    "static",
    "assets.script",
    "assets.sheet",
    "assets.watching",
    "follow.answer",
    "follow.done",
    "follow.follow",
    "follow.join",
    "follow.join_with_code",
    "follow.look_back",
    "follow.now",
    "follow.stream",
    "follow.try_it",
    "explore.blank",
    "explore.change",
    "explore.check",
    "explore.give",
    "explore.mark",
    "explore.memory",
    "explore.press",
    "explore.scene",
    "explore.task",
}


@pytest.fixture
def web(tmp_path: Path) -> Flask:
    return create_app(
        write_lesson(tmp_path), ["board.school.example"], teacher_key=KEY, class_size=10
    )


@pytest.fixture
def teacher(web: Flask) -> FlaskClient:
    client = web.test_client()
    assert client.get(f"/?key={KEY}").status_code == 303
    return client


@pytest.fixture
def room(web: Flask, teacher: FlaskClient) -> Room:
    opened = teach(web, teacher)
    opened.session.go_to_step(STEP)
    opened.session.open_question(1)
    return opened


@pytest.fixture
def pupil(web: Flask, room: Room) -> FlaskClient:
    client = web.test_client()
    assert client.get(f"/class/{room.code}").status_code == 200
    return client


def routes(web: Flask) -> Iterator[tuple[Rule, str]]:
    for rule in web.url_map.iter_rules():
        for method in sorted((rule.methods or set()) - {"OPTIONS", "HEAD"}):
            yield rule, method


def address(web: Flask, rule: Rule, room: Room, action: str = "forward") -> str:
    values = {
        "name": room.name,
        "code": room.code,
        "slug": "asking",
        "action": action,
        "machine": "8-bit",
        "number": 1,
        "address": 0,
        "filename": "css/base.css",
    }
    if rule.endpoint == "assets.htmx":
        values["name"] = "htmx-4.min.js"
    wanted = {name: values.get(name, 1) for name in rule.arguments}
    with web.test_request_context():
        return str(web.url_map.bind("localhost").build(rule.endpoint, wanted))


def test_a_pupil_can_use_what_is_for_pupils_and_nothing_else(
    web: Flask, room: Room, pupil: FlaskClient
) -> None:
    before = room.session.view()
    tried = set()
    for rule, method in routes(web):
        answer = pupil.open(address(web, rule, room), method=method, headers=same_origin())
        answer.close()
        tried.add(rule.endpoint)
        if rule.endpoint in OPEN:
            assert answer.status_code in (200, 303, 400, 404, 415), rule
        elif rule.endpoint == "lessons.index":
            assert answer.status_code == 303 and answer.location == "/join"
        else:
            assert answer.status_code == 403, rule
            assert "belongs to the teacher" in answer.text
    assert tried >= OPEN and len(tried) > len(OPEN) + 5
    assert room.session.view() == before
    assert web.extensions["rooms"].get(room.name) is room


def test_no_control_of_the_board_moves_for_a_pupil(
    web: Flask, room: Room, pupil: FlaskClient
) -> None:
    from app.web.teach.board import ACTIONS
    from app.web.teach.questions import ACTIONS as QUESTION_ACTIONS

    before, published = room.session.view(), room.followers.number
    addresses = [f"/board/{room.name}/{each}" for each in ACTIONS]
    addresses += [f"/board/{room.name}/question/{each}" for each in QUESTION_ACTIONS]
    addresses += [f"/board/{room.name}/end", f"/results/{room.name}/delete"]
    addresses += ["/lessons/asking/teach"]
    form = {"step": "1", "scene": "2", "question": "1", "part": "ALU"}
    for each in addresses:
        assert pupil.post(each, data=form, headers=same_origin()).status_code == 403, each
    assert room.session.view() == before and room.followers.number == published


@pytest.mark.parametrize(
    "cookie", ["", "x", KEY[:-1], f"{KEY} ", KEY.upper(), "\u00e9", "a" * 4000]
)
def test_a_wrong_key_is_no_key(web: Flask, room: Room, cookie: str) -> None:
    client = web.test_client()
    client.set_cookie(cookie_name(KEY), cookie)
    assert client.get(f"/board/{room.name}").status_code == 403
    fresh = web.test_client()
    assert fresh.get("/", query_string={"key": cookie}).status_code == 403
    assert fresh.get(f"/board/{room.name}", query_string={"key": KEY}).status_code == 403


def test_a_pupils_cookie_is_no_key(web: Flask, room: Room) -> None:
    client = web.test_client()
    client.set_cookie("pupil", KEY)
    assert client.get(f"/board/{room.name}").status_code == 403


def test_cookies_are_looked_for_by_name_and_never_all_read(
    web: Flask, room: Room, teacher: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A head full of them was taken apart seven times for every request."""

    def read(_: object) -> NoReturn:
        raise AssertionError("all the cookies were read")

    monkeypatch.setattr(web.request_class, "cookies", property(read))
    path = f"/class/{room.code}"
    name = web.extensions["rooms"].names.new(room.name)
    nobody = web.test_client(use_cookies=False)
    for many in ("a=b; " * 5000, f"{'A' * 9000}=b;", "xpupil=c; "):
        headers = {"Cookie": f"{many}pupil={name}; {cookie_name(KEY)}x={KEY}; c=d"} | same_origin()
        assert "Set-Cookie" not in nobody.get(path, headers=headers).headers
        form = {"question": room_question(room), "round": "1", "choice": "0"}
        assert nobody.post(f"{path}/answer", data=form, headers=headers).status_code == 200
        assert nobody.get("/explore/", headers=headers).status_code == 200
        assert nobody.get(f"/board/{room.name}", headers=headers).status_code == 403
        headers = {"Cookie": f"{many}{cookie_name(KEY)}={KEY}"}
        assert nobody.get(f"/board/{room.name}", headers=headers).status_code == 200


def test_no_pattern_goes_over_the_cookies(
    room: Room, teacher: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One did, five times for each request before it was anybody's turn: heads that were full of
    cookies kept the class waiting."""

    def search(*_: object) -> NoReturn:
        raise AssertionError("a pattern went over them")

    monkeypatch.setattr(access.re, "search", search)
    assert teacher.get(f"/board/{room.name}").status_code == 200


def test_the_key_leaves_the_address_at_once(web: Flask) -> None:
    answer = web.test_client().get(f"/?key={KEY}")
    assert answer.status_code == 303 and answer.location == "/"
    cookie = answer.headers["Set-Cookie"]
    assert KEY in cookie and "HttpOnly" in cookie and "SameSite=Strict" in cookie
    assert answer.headers["Cache-Control"] == "no-store"


def test_the_teacher_can_teach(teacher: FlaskClient, room: Room) -> None:
    assert "Ferry tickets" in teacher.get("/").text
    assert teacher.get(f"/board/{room.name}").status_code == 200
    answer = teacher.post(f"/board/{room.name}/forward", headers=same_origin())
    assert answer.status_code == 204 and room.session.view().step == STEP + 1


def test_pages_of_pupils_do_not_hold_the_key_or_the_board(
    web: Flask, room: Room, pupil: FlaskClient
) -> None:
    for each in (f"/class/{room.code}", "/join", f"/class/{room.code}/now"):
        text = pupil.get(each).text
        assert KEY not in text and room.name not in text and "/board/" not in text
    stream = pupil.get(f"/class/{room.code}/stream")
    chunks = stream.iter_encoded()
    text = b"".join(next(chunks) for _ in range(2)).decode()
    stream.close()
    assert 'id="frame"' in text and KEY not in text and room.name not in text


def test_a_page_of_another_site_cannot_send(teacher: FlaskClient, room: Room) -> None:
    before = room.session.view()
    for origin in (
        *("http://elsewhere.example", "null", "http://localhost:1", "http://localhost.x"),
        *("https://localhost", "ftp://localhost", "localhost", "://localhost"),
    ):
        answer = teacher.post(f"/board/{room.name}/forward", headers={"Origin": origin})
        assert answer.status_code == 403 and "another site" in answer.text
    # Nor one that does not say where it is.
    assert teacher.post(f"/board/{room.name}/forward").status_code == 403
    assert room.session.view() == before


def test_a_report_of_another_sites_page_changes_nothing(tmp_path: Path) -> None:
    """On the own machine a program need not say where it is. A browser always does, if not by its
    origin: without that, any page could open lessons until the one of the class ended."""
    client = create_app(write_lesson(tmp_path)).test_client()
    for site in ("cross-site", "same-site"):
        answer = client.post("/lessons/asking/teach", headers={"Sec-Fetch-Site": site})
        assert answer.status_code == 403 and "another site" in answer.text
    for headers in ({}, {"Sec-Fetch-Site": "same-origin"}, {"Sec-Fetch-Site": "none"}):
        assert client.post("/lessons/asking/teach", headers=headers).status_code == 303


@pytest.mark.parametrize("host", ["elsewhere.example", "10.0.0.9", "board.school.example.x", ""])
def test_a_name_that_is_not_served(teacher: FlaskClient, host: str) -> None:
    answer = teacher.get("/join", headers={"Host": host})
    assert answer.status_code in (400, 421)


@pytest.mark.parametrize("host", ["board.school.example:8730", "BOARD.school.example", "localhost"])
def test_names_that_are_served(teacher: FlaskClient, host: str) -> None:
    assert teacher.get("/join", headers={"Host": host}).status_code == 200


@pytest.fixture
def stopped_clock(monkeypatch: pytest.MonkeyPatch) -> None:
    """No time passes between requests, however slow this machine is."""
    monkeypatch.setattr(access, "Rate", partial(access.Rate, clock=lambda: 0.0))


def test_too_many_requests(
    stopped_clock: None, web: Flask, room: Room, teacher: FlaskClient
) -> None:
    client = web.test_client()
    most = access.REQUESTS_AT_ONCE * 10
    codes = [client.get("/join").status_code for _ in range(most + 10)]
    assert codes == [200] * most + [429] * 10
    answer = client.get("/join")
    assert answer.status_code == 429 and "Wait a little" in answer.text
    # Others, and the teacher, are not held up.
    other = {"REMOTE_ADDR": "127.0.0.2"}
    assert client.get("/join", environ_overrides=other).status_code == 200
    assert teacher.get("/").status_code == 200


def test_who_is_in_answers_whatever_another_behind_the_address_asks_for(
    stopped_clock: None, web: Flask, room: Room
) -> None:
    """A whole class may have one address, and one of them a program that asks without end."""
    path = f"/class/{room.code}"
    pupils = [web.test_client() for _ in range(3)]
    for each in pupils:
        each.get(path)
    streams = [each.get(f"{path}/stream") for each in pupils]
    attacker = web.test_client()
    attacker.get(path)
    codes = [attacker.get("/join").status_code for _ in range(access.REQUESTS_AT_ONCE * 10)]
    assert codes[-1] == 429

    def answer(client: FlaskClient, times: int) -> list[int]:
        data = {"question": "0-1", "round": "1", "choice": "0"}
        headers = same_origin()
        return [
            client.post(f"{path}/answer", data=data, headers=headers).status_code
            for _ in range(times)
        ]

    assert [answer(each, 3) for each in pupils] == [[200] * 3] * 3
    # Who has a name that never came in has no more than the address has; nor has anybody a name
    # that was made up, another way of writing the code, or more than their part.
    assert answer(attacker, 2) == [429, 429]
    assert pupils[0].get("/join").status_code == 429
    assert pupils[0].get(f"/class/{room.code.lower()}/now").status_code == 429
    attacker.set_cookie("pupil", "A" * 22 + ".B", path=path)
    assert answer(attacker, 1) == [429]
    left = access.OWN_REQUESTS_AT_ONCE - 3
    assert answer(pupils[0], left + 5) == [200] * left + [429] * 5
    assert answer(pupils[1], 1) == [200]
    for stream in streams:
        stream.close()


def test_who_got_the_page_comes_in_whatever_another_behind_the_address_asks_for(
    stopped_clock: None, web: Flask, room: Room
) -> None:
    """Nobody behind it got in: of all that a page needs one thing was always refused."""
    path = f"/class/{room.code}"
    pupil = web.test_client()
    page = pupil.get(path).text
    attacker = web.test_client()
    codes = [attacker.get("/join").status_code for _ in range(access.REQUESTS_AT_ONCE * 10)]
    assert codes[-1] == 429 and attacker.get(path).status_code == 429
    parts = re.findall(r'(?:src|href)="(/[^"]+[.](?:js|css|svg))[^"]*"', page)
    assert len(parts) > 2 and [pupil.get(each).status_code for each in parts] == [200] * len(parts)
    assert attacker.get(f"{path}/stream").status_code == 429
    stream = pupil.get(f"{path}/stream")
    assert stream.status_code == 200 and pupil.get(f"{path}/now").status_code == 200
    stream.close()


def test_too_many_streams(web: Flask, room: Room) -> None:
    nobody = web.test_client(use_cookies=False)
    streams = []
    for _ in range(10):
        answer = nobody.get(f"/class/{room.code}/stream")
        assert answer.status_code == 200
        streams.append(answer)
    answer = nobody.get(f"/class/{room.code}/stream")
    assert answer.status_code == 429 and "The class is full" in answer.text
    # One computer cannot take the places of all the others.
    other = {"REMOTE_ADDR": "127.0.0.2"}
    elsewhere = nobody.get(f"/class/{room.code}/stream", environ_overrides=other)
    assert elsewhere.status_code == 200
    # And places come back, also those of streams that were never read.
    for each in (*streams, elsewhere):
        each.close()
    assert web.extensions["streams"].taken == 0 and room.here == 0


def test_who_has_joined_keeps_a_place(web: Flask, room: Room) -> None:
    """Two addresses take all the streams they can get, with made-up names and without."""
    path = f"/class/{room.code}"
    pupil = web.test_client()
    pupil.get(path)
    pupil.get(f"{path}/stream").close()
    taken = []
    for address in ("127.0.0.2", "127.0.0.3"):
        there = {"REMOTE_ADDR": address}
        for _ in range(40):
            attacker = web.test_client()
            attacker.get(path, environ_overrides=there)
            for _ in range(5):
                taken.append(attacker.get(f"{path}/stream", environ_overrides=there))
    assert {each.status_code for each in taken} == {200, 429}
    again, late = pupil.get(f"{path}/stream"), web.test_client()
    late.get(path, environ_overrides={"REMOTE_ADDR": "127.0.0.4"})
    new = late.get(f"{path}/stream", environ_overrides={"REMOTE_ADDR": "127.0.0.4"})
    assert again.status_code == new.status_code == 200
    for each in (*taken, again, new):
        each.close()
    assert web.extensions["streams"].taken == 0 and room.here == 0


def test_nine_addresses_with_open_pages_lock_nobody_out(web: Flask, room: Room) -> None:
    """They follow under all the names that they can get, and without; a pupil who has joined and
    not answered has closed the page meanwhile."""
    path = f"/class/{room.code}"
    form = {"question": room_question(room), "round": "1", "choice": "0"}
    taken = []

    def follow(client: FlaskClient, address: str) -> int:
        there = {"REMOTE_ADDR": address}
        client.get(path, environ_overrides=there)
        taken.append(client.get(f"{path}/stream", environ_overrides=there))
        return taken[-1].status_code

    def answer(client: FlaskClient, address: str) -> int:
        there = {"REMOTE_ADDR": address}
        sent = client.post(
            f"{path}/answer", data=form, headers=same_origin(), environ_overrides=there
        )
        return sent.status_code

    sleeper = web.test_client()
    assert follow(sleeper, "127.0.1.1") == 200
    taken.pop().close()
    for number in range(9):
        address = f"127.0.0.{100 + number}"
        for cookies in (True, False):
            while follow(web.test_client(use_cookies=cookies), address) == 200:
                continue
    assert len(room.register) == web.extensions["streams"].taken == 20
    before = room.here
    for number in range(9):
        pupil, address = web.test_client(), f"127.0.1.{10 + number}"
        assert (follow(pupil, address), answer(pupil, address)) == (200, 200)
    assert (follow(sleeper, "127.0.1.1"), answer(sleeper, "127.0.1.1")) == (200, 200)
    # Who gave way follows no longer: there are not more than before but for the one who slept.
    assert len(room.register) == 20 and room.here <= before + 1
    ended = 0
    for each in taken:
        if each.status_code == 200:
            chunks = each.iter_encoded()
            ended += len([next(chunks, b""), next(chunks, b"")][1]) == 0
        each.close()
    assert ended >= 9
    assert web.extensions["streams"].taken == 0 and room.here == 0


def test_further_pages_of_a_pupil_take_places_like_those_without_a_name(
    web: Flask, room: Room
) -> None:
    pupils = [web.test_client() for _ in range(10)]
    taken = []
    for pupil in pupils:
        pupil.get(f"/class/{room.code}")
        taken += [pupil.get(f"/class/{room.code}/stream") for _ in range(2)]
    assert {each.status_code for each in taken} == {200}
    assert web.extensions["streams"].taken == 10 == room.here
    third = pupils[0].get(f"/class/{room.code}/stream")
    assert third.status_code == 429 and "Close some of them" in third.text
    for each in taken:
        each.close()
    assert web.extensions["streams"].taken == 0


def test_one_device_cannot_fill_the_ballot(web: Flask, room: Room) -> None:
    form = {"question": room_question(room), "round": "1", "choice": "0"}

    def answer(address: str) -> int:
        client = web.test_client()
        there = {"REMOTE_ADDR": address}
        client.get(f"/class/{room.code}", environ_overrides=there)
        sent = client.post(
            f"/class/{room.code}/answer",
            data=form,
            headers=same_origin(),
            environ_overrides=there,
        )
        return sent.status_code

    codes = [answer("127.0.0.2") for _ in range(25)]
    assert codes == [200] * 10 + [409] * 15
    assert [answer(f"127.0.1.{number}") for number in range(10)] == [200] * 10


def test_who_keeps_the_disk_busy_has_had_that_time(
    web: Flask, room: Room, pupil: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It takes no processor, but nobody else gets a turn."""
    now = 0.0

    def answered(*_: object) -> None:
        nonlocal now
        now += 7.0

    monkeypatch.setattr(access.time, "perf_counter", lambda: now)
    monkeypatch.setattr(room.keeper, "answered", answered)
    form = {"question": room_question(room), "round": "1", "choice": "0"}
    sent = pupil.post(f"/class/{room.code}/answer", data=form, headers=same_origin())
    turns = web.extensions["turns"]
    assert sent.status_code == 200 and turns.had("127.0.0.1") - turns.had("127.0.0.2") == 7.0


def test_many_addresses_of_one_device_do_not_fill_the_ballot(web: Flask, room: Room) -> None:
    """Each answers under all the names that it can make up; then others come."""
    path = f"/class/{room.code}"
    answer = partial(answer_from, web, room)
    for number in range(8):
        while answer(f"127.0.0.{100 + number}") == 200:
            continue
    assert len(room.register) == 20
    assert [answer(f"127.0.1.{number}") for number in range(8)] == [200] * 8
    poll = room.session.ballot.poll
    # What was answered stays counted: nobody takes away what another has answered.
    assert poll and poll.answered == len(room.session.ballot.pupils) > 20
    # Who comes then has a page that is kept up to date.
    late, there = web.test_client(), {"REMOTE_ADDR": "127.0.1.99"}
    late.get(path, environ_overrides=there)
    stream = late.get(f"{path}/stream", environ_overrides=there)
    assert stream.status_code == 200 and web.extensions["streams"].taken == 0
    stream.close()


def test_many_answers_of_one_computer_are_told(web: Flask, room: Room) -> None:
    """Whoever takes the cookies away answers as often as places are left for the address."""

    def answer(address: str) -> str:
        answer_from(web, room, address)
        return room.tally(room.session.view())

    told = "come from one computer"
    # A class may be behind one address, and then says nothing about anybody.
    assert not any(told in answer("127.0.0.2") for _ in range(6))
    assert not any(told in answer(f"127.0.1.{number}") for number in range(2))
    assert f"6 of these answers {told}" in answer("127.0.1.9")
    room.session.ballot.close()
    room.session.ballot.ask_again()
    assert told not in answer("127.0.1.10")


def test_who_finds_no_place_is_told_to_the_teacher(web: Flask, room: Room) -> None:
    """One computer may have many addresses: only the teacher knows how many pupils there are."""
    answer = partial(answer_from, web, room)
    places = [answer(f"127.0.1.{number}") for number in range(20)]
    assert places == [200] * 20 and "No place" not in room.tally(room.session.view())
    assert [answer("127.0.2.1"), answer("127.0.2.1"), answer("127.0.2.2")] == [409] * 3
    told = "No place is left: 20 have joined, and 2 computers could not."
    assert told in room.tally(room.session.view())


def answer_from(web: Flask, room: Room, address: str) -> int:
    """Who comes new at an address answers the question on the board; how that went."""
    client, there = web.test_client(), {"REMOTE_ADDR": address}
    path = f"/class/{room.code}"
    client.get(path, environ_overrides=there)
    form = {"question": room_question(room), "round": "1", "choice": "0"}
    sent = client.post(f"{path}/answer", data=form, headers=same_origin(), environ_overrides=there)
    return sent.status_code


def room_question(room: Room) -> str:
    card = room.frame().question
    assert card
    return card.key


def test_wrong_codes_are_counted(stopped_clock: None, tmp_path: Path) -> None:
    web = create_app(write_lesson(tmp_path), teacher_key=KEY, class_size=10)
    teacher = web.test_client()
    teacher.get(f"/?key={KEY}")
    room = teach(web, teacher)
    pupil = web.test_client()
    assert pupil.get(f"/class/{room.code}").status_code == 200
    guesser = web.test_client(use_cookies=False)
    codes = [guesser.get(f"/class/{'CDFHJKMNPR'[at]}CCCC/now").status_code for at in range(5)]
    codes += [
        guesser.post("/join", data={"code": "DDDDD"}, headers=same_origin()).status_code
        for _ in range(3)
    ]
    codes += [guesser.get("/?key=wrong").status_code for _ in range(3)]
    assert codes == [404] * 8 + [403] * 2 + [429]
    # Then the right code does not show itself either; who has joined, or the key, notices nothing.
    assert guesser.get(f"/class/{room.code}").status_code == 429
    assert guesser.get(f"/?key={KEY}").status_code == 303
    assert pupil.get(f"/class/{room.code}").status_code == 200
    assert teacher.get(f"/board/{room.name}").status_code == 200
    other = {"REMOTE_ADDR": "127.0.0.2"}
    assert guesser.get(f"/class/{room.code}", environ_overrides=other).status_code == 200


def test_a_large_answer(room: Room, pupil: FlaskClient) -> None:
    form = {"question": "0-1", "round": "1", "choice": "0", "more": "x" * 10_000}
    answer = pupil.post(f"/class/{room.code}/answer", data=form, headers=same_origin())
    assert answer.status_code == 413
    assert room.session.ballot.poll and room.session.ballot.poll.answered == 0


def test_without_a_key_the_own_machine_teaches(tmp_path: Path) -> None:
    web = create_app(write_lesson(tmp_path))
    client = web.test_client()
    room = teach(web, client)
    assert client.post(f"/board/{room.name}/forward").status_code == 204
    assert client.get(f"/class/{room.code}").status_code == 200


def test_nobody_chooses_a_pupils_name(web: Flask, room: Room) -> None:
    """Names of the wrong form are not taken; a name says nothing but itself."""
    form = {"question": "0-1", "round": "1", "choice": "0"}
    for name in ("", "Ada", "x" * 500, "<script>"):
        client = web.test_client()
        client.set_cookie("pupil", name, path=f"/class/{room.code}")
        answer = client.post(f"/class/{room.code}/answer", data=form, headers=same_origin())
        assert answer.status_code == 403 and "Allow cookies" in answer.text
    # Nor one that has the form of a name, but that this server has not made.
    client = web.test_client()
    client.set_cookie("pupil", f"{'a' * 22}.{'b' * 27}", path=f"/class/{room.code}")
    answer = client.post(f"/class/{room.code}/answer", data=form, headers=same_origin())
    assert answer.status_code == 403
    client = web.test_client()
    client.get(f"/class/{room.code}")
    answer = client.post(f"/class/{room.code}/answer", data=form, headers=same_origin())
    assert answer.status_code == 200


def test_answers_and_results_stay_in_no_cache(
    web: Flask, room: Room, teacher: FlaskClient, pupil: FlaskClient
) -> None:
    form = {"question": room_question(room), "round": "1", "choice": "0"}
    pupil.get(f"/class/{room.code}")
    answers = [
        pupil.post(f"/class/{room.code}/answer", data=form, headers=same_origin()),
        *(pupil.get(f"/class/{room.code}{path}") for path in ("", "/now", "/at?step=1")),
        *(teacher.get(path) for path in ("/results", f"/results/{room.name}.csv")),
        *(teacher.get(f"/board/{room.name}{path}") for path in ("", "/teacher")),
    ]
    for each in answers:
        assert each.status_code == 200 and each.headers["Cache-Control"] == "no-store"
    # What is the same for everybody is kept.
    assert "no-store" not in pupil.get("/pages/follow/8-bit.css").headers["Cache-Control"]
    assert "no-store" not in pupil.get("/static/css/base.css").headers["Cache-Control"]


def test_no_other_site_shows_a_page_of_ours(pupil: FlaskClient) -> None:
    assert "frame-ancestors 'none'" in pupil.get("/join").headers["Content-Security-Policy"]


PICTURE = {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "no-cors", "Sec-Fetch-Dest": "image"}
LINK = {
    "Sec-Fetch-Site": "cross-site",
    "Sec-Fetch-Mode": "navigate",
    "Sec-Fetch-Dest": "document",
}


def test_another_site_asks_for_nothing_that_takes_long(tmp_path: Path) -> None:
    """Also of a server that only the own machine can reach: its browser goes to other sites."""
    web = create_app(write_lesson(tmp_path), own=tmp_path / "own")
    client = web.test_client()
    room = teach(web, client)
    costly = [
        "/warm-up/asking~warm-up~5",
        "/lessons/asking/write",
        "/paper/asking",
        "/paper/asking/worksheets",
        "/explore/asking/1",
        "/lessons/asking/preview",
        "/again",
    ]
    others = ["/", "/join", f"/class/{room.code}", "/results"]
    same, typed = {**LINK, "Sec-Fetch-Site": "same-origin"}, {**LINK, "Sec-Fetch-Site": "none"}
    for path in (*costly, *others):
        for headers in ({}, same, typed):
            assert client.get(path, headers=headers).status_code == 200, path
        for headers in (
            PICTURE,
            LINK | {"Sec-Fetch-Dest": "iframe"},
            LINK | {"Sec-Fetch-Site": "same-site", "Sec-Fetch-Dest": "iframe"},
            {"Origin": "http://elsewhere.example"},
        ):
            answer = client.get(path, headers=headers)
            assert answer.status_code == 403 and "another site" in answer.text, path
        # A school's own page may lead to the lesson.
        assert client.get(path, headers=LINK).status_code == (403 if path in costly else 200), path


def test_no_link_leads_into_a_stream(tmp_path: Path) -> None:
    """It would take the place of somebody who follows."""
    web = create_app(write_lesson(tmp_path))
    client = web.test_client()
    room = teach(web, client)
    for path in (f"/board/{room.name}/stream", f"/class/{room.code}/stream"):
        assert client.get(path, headers=LINK).status_code == 403, path


def test_what_is_not_there_is_said_without_the_words_of_libraries(teacher: FlaskClient) -> None:
    missing = teacher.get("/no-such-page")
    assert missing.status_code == 404 and "There is no such page." in missing.text
    wrong = teacher.get("/lessons/asking/teach")
    assert wrong.status_code == 405 and "not a page to open" in wrong.text
    assert "URL" not in missing.text + wrong.text


def test_a_pupil_is_sent_where_a_pupil_can_go(
    teacher: FlaskClient, pupil: FlaskClient, room: Room
) -> None:
    for path in (
        "/no-such-page",
        "/explore/nothing/1",
        "/explore/asking/99",
        f"/class/{room.code}x",
    ):
        said = pupil.get(path)
        assert said.status_code == 404 and "list" not in said.text.casefold(), path
        assert 'href="/join"' in said.text and 'href="/"' not in said.text
        said = teacher.get(path)
        assert said.status_code == 404 and 'href="/"' in said.text, path
    wrong = pupil.post("/no-such-page", headers=same_origin())
    assert "list" not in wrong.text.casefold()
    foreign = pupil.get("/explore/asking/1", headers={"Sec-Fetch-Site": "cross-site"})
    assert foreign.status_code == 403 and "list" not in foreign.text.casefold()


def test_no_error_speaks_the_words_of_libraries(web: Flask) -> None:
    """Whatever fails, wherever: it says what, and how to mend it."""
    raised: type[Exception] = RuntimeError

    def fails() -> NoReturn:
        raise raised

    fails.open_to_class = True  # type: ignore[attr-defined]
    web.view_functions["follow.join"] = fails
    client = web.test_client()
    for raised in (*default_exceptions.values(), RuntimeError):
        answer = client.get("/join")
        theirs = getattr(raised, "description", default_exceptions[500].description)
        assert answer.status_code == getattr(raised, "code", 500)
        found = re.search(r"<h1>(.*?)</h1>\s*<p>([^<]+)</p>", answer.text, re.DOTALL)
        assert found and found[2] not in (theirs, str(escape(theirs))), raised
        assert found[2].count(".") >= 2, raised
        assert found[1] != HTTP_STATUS_CODES[answer.status_code], raised


def test_what_is_too_long_is_told(web: Flask, room: Room) -> None:
    pupil = web.test_client()
    page = {"data": {"choice": "0" * 5000}, "headers": same_origin() | {"HX-Request": "true"}}
    answer = pupil.post(f"/class/{room.code}/answer", **page)
    assert answer.status_code == 413 and "too long" in answer.text
