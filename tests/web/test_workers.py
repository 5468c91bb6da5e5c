"""What pupils have worked out is worked out elsewhere, with the same answer."""

from __future__ import annotations

import gc
import http.client
import os
import sys
import threading
import urllib.parse
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from types import SimpleNamespace
from typing import NoReturn
from zipfile import ZipFile

import pytest
from flask import Flask, Response, request

from app import create_app, worker
from app.web import workers as module
from app.web.paper import replays, sheets
from app.web.workers import Asked, Workers, _asked
from tests.asking import ASKING, teach, write_lesson
from tests.bench.crowd import FULL, LOOP
from tests.server import ROOT, Server

PROGRAM = {"machine": "8-bit", "program": "LOAD #3\nADD #4\nOUTPUT\nHALT"}

PAGE = "/explore/02-ferry-ticket-machine/1"

TASK = """
# At last

```task
goal: Output seven.
gives 7
```

```solution
LOAD #7
OUTPUT
HALT
```
"""


@pytest.fixture
def workers(tmp_path: Path) -> Iterator[Workers]:
    made = Workers(write_lesson(tmp_path), class_size=10, number=1)
    yield made
    made.close()


@pytest.fixture
def web(tmp_path: Path, workers: Workers) -> Flask:
    return create_app(tmp_path, workers=workers)


@pytest.fixture(scope="module")
def both(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Flask, Flask]]:
    """The same lessons with a worker, which answers one after the other, and without."""
    folder = write_lesson(tmp_path_factory.mktemp("both"))
    workers = Workers(folder, class_size=10, number=1)
    yield create_app(folder, workers=workers), create_app(folder)
    workers.close()


@pytest.mark.parametrize(
    ("path", "more"),
    [
        ("press", {"go": "forward"}),
        ("press", {"go": "end"}),
        ("press", {"go": "nowhere"}),
        ("press", {"go": "forward", "predict": "on"}),
        ("check", {"program": "LAOD #3"}),
        ("check", {"machine": "frob"}),
        ("memory", {}),
        ("memory/2", {"word": "INPUT"}),
        ("give", {"given": "many"}),
        ("asking/1/task", {}),
        ("no/such/place", {}),
    ],
)
@pytest.mark.parametrize("part", [True, False])
def test_a_worker_answers_as_the_server_would(
    both: tuple[Flask, Flask], path: str, more: dict[str, str], part: bool
) -> None:
    headers = {"Accept-Encoding": "gzip"} | ({"HX-Request": "true"} if part else {})
    there, here = (
        app.test_client().post(f"/explore/{path}", data=PROGRAM | more, headers=headers)
        for app in both
    )
    assert (there.status_code, there.data) == (here.status_code, here.data)
    assert [*there.headers] == [*here.headers]


def test_a_worker_reads_no_lesson_that_it_is_not_asked_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A press is given ten seconds, and a folder may take longer to be read."""
    write_lesson(tmp_path)
    read: list[Path] = []
    monkeypatch.setattr("app.lesson.file.shelf.read_file", read.append)
    asked, answered = BytesIO(), BytesIO()
    body = urllib.parse.urlencode(PROGRAM | {"go": "forward"}).encode()
    kind = {"Content-Type": "application/x-www-form-urlencoded"}
    module.write_message(asked, Asked("/explore/press", "", kind, body))  # type: ignore[arg-type]
    asked.seek(0)
    monkeypatch.setattr(sys, "stdin", SimpleNamespace(buffer=asked))
    monkeypatch.setattr(sys, "stdout", SimpleNamespace(buffer=answered))
    worker.answers(tmp_path)
    gc.unfreeze()
    answered.seek(0)
    answer = module.read_message(answered)  # type: ignore[arg-type]
    assert isinstance(answer, module.Answered)
    assert answer.status == 200
    assert read == []


def test_a_header_over_two_lines_ends_no_worker(tmp_path: Path, workers: Workers) -> None:
    """As headers could be written once (RFC 9112, 5.2): the worker took it for two."""
    web = create_app(tmp_path, workers=workers)
    with web.test_request_context("/explore/check", method="POST", data=PROGRAM):
        request.environ["HTTP_ACCEPT_ENCODING"] = "gzip\r\n deflate"
        answered = workers.answer("10.0.0.9", _asked(None))
    assert answered and answered.status == 200


def test_what_takes_a_teacher_long_is_made_elsewhere(
    tmp_path: Path, web: Flask, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It held the board up: each replay for as long as it took to be made and packed."""
    (tmp_path / "second.md").write_text(ASKING.replace("title: ", "title: Second "), "utf-8")
    paths = ("asking/plan?scene=1&size=letter", "asking/scorm-1.2.zip", "all/replays.zip")
    plain = create_app(tmp_path).test_client()
    here = [plain.get(f"/paper/{path}") for path in paths]

    def nothing(*_: object) -> NoReturn:
        raise AssertionError("the server does it itself")

    for name in ("replay_page", "scorm_package", "cue_places"):
        monkeypatch.setattr(sheets, name, nothing)
    monkeypatch.setattr(replays, "replay_page", nothing)
    client = web.test_client()
    for path, expected in zip(paths, here, strict=True):
        answer = client.get(f"/paper/{path}")
        assert (answer.status_code, answer.data) == (expected.status_code, expected.data), path
        assert [*answer.headers] == [*expected.headers], path


def test_what_follows_long_runs_is_made_elsewhere(
    tmp_path: Path, web: Flask, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A stranger's lesson of loops held the board up for six seconds with its worksheets, and for
    five with its trace. What is short is still made at once."""
    paths = ("asking/worksheets?versions=2&seed=7", "asking/trace.csv", "asking/quiz.csv")
    plain = create_app(tmp_path).test_client()
    here = [plain.get(f"/paper/{path}") for path in paths]
    asked: list[str] = []
    pass_aside = sheets.pass_aside

    def passed() -> Response | None:
        asked.append(request.path)
        return pass_aside()

    monkeypatch.setattr(sheets, "pass_aside", passed)
    client = web.test_client()
    for long in (False, True):
        monkeypatch.setattr(sheets, "_LONG", 10 if long else 15_000)
        for path, expected in zip(paths, here, strict=True):
            answer = client.get(f"/paper/{path}")
            assert (answer.status_code, answer.data) == (expected.status_code, expected.data), path
            assert [*answer.headers] == [*expected.headers], path
        # Versions are: each tries many numbers, and each of those has its run. So is a trace, which
        # may have a column for each word of memory.
        assert len(asked) == (2 + len(paths) if long else 2)


def test_what_follows_the_runs_is_known(web: Flask) -> None:
    endpoints = {each.endpoint for each in web.url_map.iter_rules()}
    assert {*sheets._ASIDE, *sheets._ASIDE_IF_LONG} <= endpoints


def test_a_replay_of_a_file_with_a_fault_by_now_says_so_and_is_not_made_in_the_server(
    tmp_path: Path, web: Flask, workers: Workers, monkeypatch: pytest.MonkeyPatch
) -> None:
    client = web.test_client()
    whole = client.get("/paper/all/replays.zip").data
    pieces = iter(client.get("/paper/all/replays.zip").response)
    first = next(pieces)
    (tmp_path / "asking.md").write_text("no lesson", "utf-8")
    monkeypatch.setattr(sheets, "replay_page", None)
    changed = b"".join([first, *pieces])
    with ZipFile(BytesIO(whole)) as before, ZipFile(BytesIO(changed)) as after:
        assert after.namelist() == before.namelist()
        said = after.read(after.namelist()[1]).decode()
        assert "Its file was changed while the replays were made" in said and len(said) < 10_000


def test_a_worker_that_takes_too_long_is_ended(
    web: Flask, workers: Workers, monkeypatch: pytest.MonkeyPatch
) -> None:
    client = web.test_client()
    monkeypatch.setattr(module, "LONGEST_SECONDS", 0.01)
    answer = client.post("/explore/press", data=PROGRAM | {"go": "end"})
    assert answer.status_code == 503 and "too long" in answer.text
    assert workers.turns.running == 0
    # Whoever asked has had all that time, and waits behind who comes new.
    assert workers.turns.had("") > workers.turns.had("127.0.0.2")
    monkeypatch.setattr(module, "LONGEST_SECONDS", 60.0)
    assert client.post("/explore/press", data=PROGRAM | {"go": "end"}).status_code == 200


def test_a_server_that_stops_ends_those_at_work(tmp_path: Path) -> None:
    """They went on for nobody, and then told the terminal that nobody listened."""
    workers = Workers(write_lesson(tmp_path), class_size=10, number=1)
    with workers.aside() as worker:
        assert worker.alive
        workers.close()
        assert not worker.alive


def test_where_too_many_wait_the_last_is_told(
    web: Flask, workers: Workers, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "PATIENCE_SECONDS", 0.0)
    assert workers.turns.take("somebody else", 0)
    answer = web.test_client().post("/explore/check", data=PROGRAM)
    assert answer.status_code == 503 and "Press again" in answer.text


def test_a_worker_that_was_killed_is_replaced(web: Flask, workers: Workers) -> None:
    client = web.test_client()
    assert client.post("/explore/check", data=PROGRAM).status_code == 200
    (worker,) = workers._idle
    worker._process.kill()
    worker._process.wait()
    assert client.post("/explore/check", data=PROGRAM).status_code == 200
    workers.close()
    assert workers._idle == []


def test_a_new_worker_knows_the_task_of_the_class(
    tmp_path: Path, web: Flask, workers: Workers
) -> None:
    """It is started while the lesson's file has a fault: the class goes on with what it has."""
    lesson = tmp_path / "asking.md"
    text = lesson.read_text("utf-8") + TASK
    lesson.write_text(text, "utf-8")
    client = web.test_client()
    room = teach(web, client)
    number = len(room.session.lesson.scenes)
    assert client.get(f"/explore/asking/{number}").status_code == 200
    changed = text.replace("gives 7", "gives 9")
    lesson.write_text(changed + "```program\nLODE 3\n```", "utf-8")
    (worker,) = workers._idle
    worker.end()
    answer = client.post(f"/explore/asking/{number}/task", data=PROGRAM)
    assert answer.status_code == 200 and "Done." in answer.text
    # Once the file is whole it counts, as ever; whoever follows the class has the class's task.
    lesson.write_text(changed.replace("LOAD #7", "LOAD #9"), "utf-8")
    answer = client.post(f"/explore/asking/{number}/task", data=PROGRAM)
    assert answer.status_code == 200 and "Not yet." in answer.text
    pupil = web.test_client()
    pupil.get(f"/class/{room.code}")
    answer = pupil.post(f"/explore/asking/{number}/task", data=PROGRAM)
    assert "Done." in answer.text and f"/class/{room.code}/done " in answer.headers["Task-Done"]
    # What is not there is told as before.
    for path in ("asking/99/task", "asking/1/task", "frob/1/task"):
        assert client.post(f"/explore/{path}", data=PROGRAM).status_code == 404


ODD_NAMES = ("why?", "why#", "50%", "100%25", "où est-ce")


@pytest.fixture(scope="module")
def oddly_named(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Flask, Workers]]:
    folder = tmp_path_factory.mktemp("odd")
    for slug in ODD_NAMES:
        (folder / f"{slug}.md").write_text(ASKING + TASK, "utf-8")
    workers = Workers(folder, class_size=10, number=1)
    yield create_app(folder, workers=workers), workers
    workers.close()


@pytest.mark.parametrize("slug", ODD_NAMES)
def test_a_task_of_a_file_with_an_odd_name(oddly_named: tuple[Flask, Workers], slug: str) -> None:
    web, workers = oddly_named
    client = web.test_client()
    path = f"/explore/{urllib.parse.quote(slug)}/3/task"
    assert "Not yet." in client.post(path, data=PROGRAM | {"program": "HALT"}).text
    (worker,) = workers._idle
    assert "Done." in client.post(path, data=PROGRAM).text
    assert workers._idle == [worker] and worker.alive, "the same worker answered both"


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="reads /proc")
def test_the_server_itself_does_none_of_it() -> None:
    from tests.bench.process import processor_seconds

    headers = {"Content-Type": "application/x-www-form-urlencoded"}
    with Server(ROOT / "lessons") as server:
        connection = http.client.HTTPConnection("127.0.0.1", server.port, timeout=60)

        def ask(number: int) -> None:
            for program in (FULL, LOOP):
                fields = {"machine": "16-bit", "program": program.format(n=number)}
                body = urllib.parse.urlencode(fields)
                connection.request("POST", "/explore/check", body, headers)
                answer = connection.getresponse()
                assert answer.status == 200 and b"frame" in answer.read()

        ask(0)
        (child,) = children(server.process.pid)
        before = [processor_seconds(each) for each in (server.process.pid, child)]
        for number in range(1, 15):
            ask(number)
        after = [processor_seconds(each) for each in (server.process.pid, child)]
        ours, theirs = (b - a for a, b in zip(before, after, strict=True))
        connection.close()
        assert theirs > 0.2 and ours < theirs / 4
        assert server.stop()[0] == 0
        with pytest.raises(ProcessLookupError):
            os.kill(child, 0)


def children(process: int) -> list[int]:
    return [
        int(each)
        for path in Path(f"/proc/{process}/task").glob("*/children")
        for each in path.read_text().split()
    ]


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="many loopback addresses")
def test_the_teacher_waits_for_one_pupil_and_not_for_the_class() -> None:
    """Thirty pupils ask for pages as fast as they come; between a press and its answer only a few
    of them are answered, and not all that had asked before."""
    with Server(ROOT / "lessons", "--share", "--address", "127.0.0.1") as server:
        teacher = {"Cookie": let_in(server), "Origin": server.address}
        connection = http.client.HTTPConnection("127.0.0.1", server.port, timeout=60)
        connection.request("POST", "/lessons/02-ferry-ticket-machine/teach", headers=teacher)
        begun = connection.getresponse()
        begun.read()
        # What is made once for everybody is not charged to the first of them.
        connection.request("GET", PAGE, headers=teacher)
        assert connection.getresponse().read()
        answered = [0] * 30
        done = threading.Event()
        pupils = [
            threading.Thread(target=ask_and_ask, args=(server.port, number, answered, done))
            for number in range(len(answered))
        ]
        for each in pupils:
            each.start()
        try:
            while min(answered) < 2:
                assert all(each.is_alive() for each in pupils), answered
                done.wait(0.05)
            meanwhile = []
            for _ in range(31):
                before = sum(answered)
                connection.request("POST", f"{begun.headers['Location']}/forward", headers=teacher)
                answer = connection.getresponse()
                answer.read()
                meanwhile.append(sum(answered) - before)
                assert answer.status == 204
                done.wait(0.03)
        finally:
            done.set()
            for each in pupils:
                each.join()
            connection.close()
    assert sorted(meanwhile)[15] <= 10, meanwhile


def let_in(server: Server) -> str:
    connection = http.client.HTTPConnection("127.0.0.1", server.port, timeout=60)
    connection.request("GET", f"/?key={server.key}")
    answer = connection.getresponse()
    answer.read()
    connection.close()
    return answer.headers["Set-Cookie"].partition(";")[0]


def ask_and_ask(port: int, number: int, answered: list[int], done: threading.Event) -> None:
    connection = http.client.HTTPConnection(
        "127.0.0.1", port, timeout=60, source_address=(f"127.0.3.{number + 1}", 0)
    )
    while not done.is_set():
        connection.request("GET", PAGE)
        answer = connection.getresponse()
        answer.read()
        # At last the address has asked too often.
        assert answer.status in (200, 429)
        answered[number] += 1
    connection.close()
