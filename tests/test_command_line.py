"""``python -m app``, started as a teacher starts it, with what can go wrong."""

from __future__ import annotations

import errno
import os
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

import pytest

from app import create_app
from tests.conftest import BROKEN, SHORT
from tests.server import PATIENCE, ROOT, Server


def ask(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    """Run a command that must end by itself."""
    return subprocess.run(
        [sys.executable, "-m", "app", *map(str, arguments)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=PATIENCE,
    )


@pytest.mark.skipif(os.name == "nt", reason="Windows sends no SIGINT to one process")
@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM])
def test_serves_until_it_is_stopped(how: signal.Signals) -> None:
    with Server() as server:
        board = urllib.request.urlopen(
            urllib.request.Request(
                f"{server.address}/lessons/02-ferry-ticket-machine/teach", method="POST"
            )
        )
        # A page that is watching must not keep the server from stopping.
        stream = urllib.request.urlopen(f"{board.url}/stream")
        assert stream.readline().startswith(b":")
        code, said, wrong = server.stop(how)
    assert code == 0
    assert "Chalkcycle has stopped." in said
    assert wrong == ""


def test_a_page_comes_whole() -> None:
    with Server() as server, urllib.request.urlopen(server.address) as answer:
        assert answer.status == 200
        assert "</html>" in answer.read().decode()


def test_a_port_that_is_taken() -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        answer = ask("serve", "--no-browser", "--port", str(port))
    assert answer.returncode == 1
    assert f"Port {port} is taken" in answer.stderr and "--port" in answer.stderr
    assert "Traceback" not in answer.stderr


def test_a_port_that_the_system_does_not_give() -> None:
    """It is not taken: what the system says is told. (An address of RFC 5737, which no machine
    has, is refused as a port may be, whoever starts the server.)"""
    code = (
        "from app import __main__ as line\n"
        "for port in (80, None):\n"
        "    try:\n"
        "        line._listen(port, '203.0.113.1')\n"
        "    except line.click.ClickException as error:\n"
        "        print(error.message)\n"
    )
    said = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.splitlines()
    why = os.strerror(errno.EADDRNOTAVAIL)
    assert [why in each and "taken" not in each for each in said] == [True, True], said
    assert "Port 80" in said[0] and "--port" in said[0] and "None" not in said[1]


@pytest.mark.parametrize("port", ["-1", "70000", "http"])
def test_a_port_that_is_none(port: str) -> None:
    answer = ask("--no-browser", "--port", port)
    assert answer.returncode == 2
    assert "Traceback" not in answer.stderr and "--port" in answer.stderr


def test_a_folder_that_is_missing(tmp_path: Path) -> None:
    answer = ask(tmp_path / "nowhere", "--no-browser")
    assert answer.returncode == 1
    assert "no folder or file" in answer.stderr and "nowhere" in answer.stderr
    assert "Traceback" not in answer.stderr


def test_a_file_that_is_no_lesson(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("Buy chalk.")
    answer = ask(tmp_path / "notes.txt", "--no-browser")
    assert answer.returncode == 1
    assert ".md" in answer.stderr and "Traceback" not in answer.stderr


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such files")
@pytest.mark.parametrize(
    ("name", "what"),
    [
        ("pipe.md", "no file but a pipe or a device"),
        ("loop", "cannot be looked at: "),
        ("x" * 300, "cannot be looked at: "),
    ],
)
def test_what_can_hold_no_lesson_is_told_as_what_it_is(
    tmp_path: Path, name: str, what: str
) -> None:
    os.mkfifo(tmp_path / "pipe.md")
    (tmp_path / "loop").symlink_to(tmp_path / "loop")
    answer = ask(tmp_path / name, "--no-browser", "--store", "none", "--port", "0")
    assert answer.returncode == 1 and not answer.stdout and "Traceback" not in answer.stderr
    assert f"'{tmp_path / name}' " in answer.stderr and what in answer.stderr


def test_an_own_folder_that_leads_back_to_itself_is_refused(tmp_path: Path) -> None:
    (tmp_path / "loop").symlink_to(tmp_path / "loop")
    answer = ask("--own", tmp_path / "loop", "--no-browser", "--store", "none", "--port", "0")
    assert answer.returncode == 1 and "Traceback" not in answer.stderr
    assert "Choose another one." in answer.stderr


def test_where_nothing_can_be_remembered_the_lessons_are_served_all_the_same(
    tmp_path: Path,
) -> None:
    (tmp_path / "home").mkdir()
    kept = dict.fromkeys(("XDG_STATE_HOME", "LOCALAPPDATA"), str(tmp_path / ("x" * 300)))
    homes = dict.fromkeys(("HOME", "USERPROFILE"), str(tmp_path / "home"))
    with Server(environment=kept | homes) as server:
        page = urllib.request.urlopen(server.address).read().decode()
        usual = str(tmp_path / "home" / "Chalkcycle lessons")
        assert page.count(">Teach<") >= 24 and usual in page
        code, _, wrong = server.stop()
    assert code == 0 and "Traceback" not in wrong
    assert "own-folder' cannot be read (" in wrong and f"This time it is '{usual}'." in wrong
    chosen = ["--own", tmp_path / "mine", "--store", "none", "--port", "0", "--no-browser"]
    answer = subprocess.run(
        [sys.executable, "-m", "app", *map(str, chosen)],
        cwd=ROOT,
        env=os.environ | kept,
        capture_output=True,
        text=True,
        timeout=PATIENCE,
    )
    assert answer.returncode == 1 and "cannot be remembered: " in answer.stderr
    assert "Start without --own" in answer.stderr


@pytest.mark.skipif(os.name == "nt", reason="Windows has its own terminal")
@pytest.mark.parametrize(
    "arguments",
    [
        ["--share", "--address", "a\x1b[31mb", "--store", "none", "--no-browser"],
        ["new", "a", "\x1b[31mb"],
        ["my-lessons", "\x1b[31mb"],
        ["check", "\x1b[31mb"],
        ["print", "\x1b[31mb"],
    ],
)
def test_nothing_that_was_typed_does_anything_to_the_terminal(arguments: list[str]) -> None:
    answer = ask(*arguments)
    assert answer.returncode and "\x1b" not in answer.stdout + answer.stderr
    assert r"\x1b[31mb" in answer.stdout + answer.stderr


def test_a_lesson_with_a_fault_is_told_and_the_others_are_served(tmp_path: Path) -> None:
    (tmp_path / "good.md").write_text(SHORT, encoding="utf-8")
    (tmp_path / "bad.md").write_text(BROKEN, encoding="utf-8")
    (tmp_path / "bytes.md").write_bytes(b"---\ntitle: \xff\n---\n")
    with Server(tmp_path) as server:
        page = urllib.request.urlopen(server.address).read().decode()
        assert "A short sum" in page
        _, _, wrong = server.stop()
    # File, line, column, what, and how to mend it.
    assert re.search(
        r"bad\.md:9:9: There is no instruction called 'LAOD'\. Did you mean LOAD\?", wrong
    )
    assert re.search(r"bytes\.md:2:1: .*UTF-8", wrong)
    assert "Traceback" not in wrong


def test_one_lesson_file(tmp_path: Path) -> None:
    (tmp_path / "good.md").write_text(SHORT, encoding="utf-8")
    (tmp_path / "other.md").write_text(BROKEN, encoding="utf-8")
    with Server(tmp_path / "good.md") as server:
        page = urllib.request.urlopen(server.address).read().decode()
        assert page.count("<h2>") == 1
        assert server.stop()[2] == ""


def test_an_empty_folder_is_told_and_served(tmp_path: Path) -> None:
    with Server(tmp_path) as server:
        assert "There is no lesson" in urllib.request.urlopen(server.address).read().decode()
        assert "There is no lesson" in server.stop()[2]


def test_help() -> None:
    answer = ask("--help")
    assert answer.returncode == 0
    for command in ("check", "new", "serve"):
        assert re.search(rf"^  {command}\b", answer.stdout, flags=re.MULTILINE)
    assert "..." not in answer.stdout.split("\n", 1)[1]
    for option in ("--share", "--port", "--no-browser", "--store", "--address", "--class-size"):
        assert option in answer.stdout
    serve = ask("serve", "--help").stdout
    assert "--port" in serve and "--share" in serve


def test_a_second_server_teaches_too_and_says_what_it_does_not_keep(tmp_path: Path) -> None:
    store = tmp_path / "kept.sqlite3"
    with Server(store=store) as first, Server(store=store) as second:
        assert urllib.request.urlopen(f"{second.address}/").status == 200
        teach = urllib.request.Request(
            f"{second.address}/lessons/02-ferry-ticket-machine/teach", method="POST"
        )
        board = urllib.request.urlopen(teach).url
        page = urllib.request.urlopen(f"{board}/teacher").read().decode()
        assert "another Chalkcycle" in page and "nothing is kept" in page
        code, _, said = second.stop()
        assert code == 0 and "another Chalkcycle" in said
        assert first.stop()[0] == 0
    # Closed cleanly, it is one file.
    assert [*tmp_path.iterdir()] == [store]


def test_a_new_key_when_asked_for(tmp_path: Path) -> None:
    store = tmp_path / "kept.sqlite3"
    keys = []
    for options in ([], [], ["--new-key"], []):
        with Server("--share", "--address", "127.0.0.1", *options, store=store) as server:
            keys.append(server.key)
            server.stop()
    assert keys[0] == keys[1] != keys[2] == keys[3]


def test_a_teacher_elsewhere_is_given_an_address_that_leads_here() -> None:
    for name, elsewhere in (("10.0.0.7", True), ("127.0.0.1", False)):
        with Server("--share", "--address", name) as server:
            address = f"http://{name}:{server.port}/"
            with_key = f"From another computer that is {address}?key={server.key}\n"
            assert server.process.stdout
            # The class is told of an address without the key, after all that has it.
            until = f"The class joins at {address} with the code that the board shows.\n"
            said = [*iter(server.process.stdout.readline, until)]
            assert [each for each in said if "another computer" in each] == [with_key] * elsewhere
            server.stop()


def test_the_key_is_in_no_list_of_processes(tmp_path: Path) -> None:
    """What the browser is started with opens the teacher's page once, from this machine."""
    browser = tmp_path / "browser"
    browser.write_text(f'#!/bin/sh\necho "$@" > {tmp_path}/started\n')
    browser.chmod(0o755)
    command = [sys.executable, "-m", "app", "serve", "--share", "--address", "127.0.0.1"]
    process = subprocess.Popen(
        [*command, "--port", "0", "--store", "none"],
        cwd=ROOT,
        env=os.environ | {"BROWSER": str(browser)},
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        assert process.stdout
        key = process.stdout.readline().split("key=")[1].split()[0]
        started = tmp_path / "started"
        for _ in range(200):
            if started.exists() and started.read_text():
                break
            time.sleep(0.05)
        address = started.read_text().strip()
        assert key not in address and "ticket=" in address
        opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor())
        assert "keeper&#39;s list" in opener.open(address).read().decode()
        with pytest.raises(urllib.error.HTTPError) as caught:
            urllib.request.urlopen(address)
        assert caught.value.code == 403
    finally:
        process.kill()
        process.communicate()


@pytest.mark.parametrize(
    ("name", "mend"),
    [
        ("http://10.0.0.7:8730/", "--address 10.0.0.7"),
        ("board.example:8730", "--address board.example"),
        ("board.example/class", "--address board.example"),
        ("10.0.0.256", "--address 10.0.0.5"),
        ("10.0.0", "--address 10.0.0.5"),
        ("a name", "--address 10.0.0.5"),
        ("", "--address 10.0.0.5"),
        ("<b>", "--address 10.0.0.5"),
        ("x" * 300, "--address 10.0.0.5"),
        ("-x", "--address 10.0.0.5"),
    ],
)
def test_an_address_that_is_none(name: str, mend: str) -> None:
    said = ask("--share", f"--address={name}", "--store", "none", "--no-browser")
    assert said.returncode == 1 and "name or address of a machine" in said.stderr
    assert mend in said.stderr and not said.stdout


def test_a_start_from_a_folder_that_is_gone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "gone").mkdir()
    monkeypatch.chdir(tmp_path / "gone")
    (tmp_path / "gone").rmdir()
    assert create_app().test_client().get("/").status_code == 200
