"""The stream, held to the format of the HTML Standard's section 'Server-sent events'."""

from __future__ import annotations

import threading
from collections.abc import Iterator

from flask import Flask
from flask.testing import FlaskClient

from app.web.stream import event
from tests.web.test_pages import teach


class Reader:
    """Reads a stream as the standard tells a browser to, event by event."""

    def __init__(self, chunks: Iterator[bytes]) -> None:
        self._chunks = chunks
        self._rest = ""
        self.comments: list[str] = []
        # Frames that the next press would bring; they have a name, and are none to be shown.
        self.ahead: list[str] = []

    def _block(self) -> list[str]:
        while "\n\n" not in self._rest:
            self._rest += next(self._chunks).decode()
        block, self._rest = self._rest.split("\n\n", 1)
        return block.split("\n")

    def next_event(self) -> tuple[int, str]:
        """The id and the data of the next frame; a sign of life, which has a name, is none."""
        while True:
            number, data, kind = -1, [], ""
            for line in self._block():
                name, _, value = line.partition(":")
                value = value.removeprefix(" ")
                if name == "":
                    self.comments.append(value)
                elif name == "id":
                    number = int(value)
                elif name == "event":
                    kind = value
                else:
                    assert name == "data", f"a field that nobody asked for: {line}"
                    data.append(value)
            if kind == "ahead":
                assert number == -1
                self.ahead.append("\n".join(data))
            elif kind:
                assert (kind, data) == ("alive", ["alive"])
            elif data:
                return number, "\n".join(data)


def open_stream(client: FlaskClient, board: str, **headers: str) -> Reader:
    answer = client.get(
        f"{board}/stream", headers={name.replace("_", "-"): each for name, each in headers.items()}
    )
    assert answer.status_code == 200
    assert answer.mimetype == "text/event-stream"
    assert answer.headers["Cache-Control"] == "no-store"
    return Reader(answer.iter_encoded())


def test_the_present_frame_comes_at_once_and_stands_still(client: FlaskClient) -> None:
    board = teach(client)
    client.post(f"{board}/forward")
    number, data = open_stream(client, board).next_event()
    assert number > 0
    assert 'data-step="1"' in data
    assert "data-routes" not in data


def test_later_frames_move_and_their_numbers_rise(client: FlaskClient) -> None:
    board = teach(client)
    reader = open_stream(client, board)
    numbers = [reader.next_event()[0]]
    for step in (1, 2, 3):
        client.post(f"{board}/forward")
        number, data = reader.next_event()
        numbers.append(number)
        assert f'data-step="{step}"' in data
        assert "data-routes" in data
    assert numbers == sorted(set(numbers))


def test_a_page_that_has_the_newest_frame_does_not_get_it_twice(client: FlaskClient) -> None:
    board = teach(client)
    number, _ = open_stream(client, board).next_event()
    again = open_stream(client, board, Last_Event_ID=str(number))
    client.post(f"{board}/forward")
    newer, data = again.next_event()
    assert newer > number and 'data-step="1"' in data


def test_a_page_that_missed_frames_gets_only_the_newest(client: FlaskClient) -> None:
    board = teach(client)
    number, _ = open_stream(client, board).next_event()
    for _ in range(5):
        client.post(f"{board}/forward")
    newer, data = open_stream(client, board, Last_Event_ID=str(number)).next_event()
    assert newer == number + 5
    assert 'data-step="5"' in data and "data-routes" not in data


def test_a_last_event_id_that_makes_no_sense(client: FlaskClient) -> None:
    board = teach(client)
    for nonsense in ("", "x", "-3", "9" * 4000, "1.5", "\u0663".encode().decode("latin-1")):
        _, data = open_stream(client, board, Last_Event_ID=nonsense).next_event()
        assert 'data-step="0"' in data


def test_a_restarted_server_is_not_taken_for_an_older_one(web: Flask) -> None:
    """A page that still knows a number of the server before gets the frame, whatever it is."""
    client = web.test_client()
    _, data = open_stream(client, teach(client), Last_Event_ID="12").next_event()
    assert 'data-step="0"' in data


def test_the_frame_of_the_next_press_is_told_before_it_is_pressed(web: Flask) -> None:
    client = web.test_client()
    board = teach(client)
    reader = open_stream(client, board)
    reader.next_event()
    for step in (1, 2):
        # Nothing else comes meanwhile: what is told next is the frame to come.
        threading.Timer(0.5, client.post, (f"{board}/forward",)).start()
        _, data = reader.next_event()
        assert f'data-step="{step}"' in data and "data-routes" in data
        frame = data.partition("<hx-partial")[0].strip()
        assert reader.ahead.pop().strip() == frame and not reader.ahead


def test_a_pupil_is_not_told_what_comes(web: Flask) -> None:
    client = web.test_client()
    room = web.extensions["rooms"].get(teach(client).rpartition("/")[2])
    client.get(f"/class/{room.code}", follow_redirects=True)
    answer = client.get(f"/class/{room.code}/stream")
    reader = Reader(answer.iter_encoded())
    reader.next_event()
    threading.Timer(0.5, room.session.forward).start()
    assert 'data-step="1"' in reader.next_event()[1]
    assert not reader.ahead


def test_closing_ends_the_stream(web: Flask) -> None:
    client = web.test_client()
    answer = client.get(f"{teach(client)}/stream")
    reader = Reader(answer.iter_encoded())
    reader.next_event()
    ended = threading.Event()

    def read_to_the_end() -> None:
        try:
            reader.next_event()
        except StopIteration:
            ended.set()

    threading.Thread(target=read_to_the_end, daemon=True).start()
    web.extensions["rooms"].close()
    assert ended.wait(20)


def test_text_with_line_breaks_stays_one_event() -> None:
    text = event(7, "one\ntwo\n\nfour")
    assert Reader(iter([text.encode()])).next_event() == (7, "one\ntwo\n\nfour")
    assert text.endswith("\n\n")
