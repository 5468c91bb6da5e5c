"""A class, and a school day of classes, before the real server."""

from __future__ import annotations

import contextlib
import io
import statistics
import tempfile
import time
from pathlib import Path
from random import Random

from app import create_app
from tests.server import ROOT, Server

from . import explore
from .class_load import LESSON, Followers, Press, compare, go_on, memory_of, open_lesson
from .rows import Row, percentile

LESSONS_A_DAY = 6
PUPILS = 40
# So many followers share one selector: they join and drop together, as a row of a room does.
ROW_OF_PUPILS = 8


def class_figures(quick: bool) -> list[Row]:
    numbers = (35, 200) if quick else (35, 1000)
    frames, steps = (15, 500) if quick else (40, 10_000)
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        lesson = Path(folder) / "loop.md"
        lesson.write_text(LESSON, encoding="utf-8")
        store = Path(folder) / "store.sqlite3"
        with Server(lesson, "--class-size", "2000", store=store) as server:
            board, path = open_lesson(server)
            for number in numbers:
                with contextlib.redirect_stdout(io.StringIO()):
                    delays = compare(server, board, path, number, frames)
                ours, bare = delays["Chalkcycle"], delays["bare"]
                ratio = percentile(ours, 0.99) / percentile(bare, 0.99)
                middle = statistics.median(ours) / statistics.median(bare)
                small = number <= 35
                rows.append(
                    Row(
                        f"a frame to {number} followers",
                        "all within 20 ms" if small else "p99 at most 1.5 of bare",
                        f"p50 {_ms(statistics.median(ours))}, p99 {_ms(percentile(ours, 0.99))},"
                        f" all {_ms(max(ours))}; of bare: p50 {middle:.2f}, p99 {ratio:.2f}"
                        f" (bare: all {_ms(max(bare))})",
                        max(ours) <= 0.020 if small else ratio <= 1.5,
                    )
                )
            with contextlib.redirect_stdout(io.StringIO()):
                marks = go_on(server, board, path, steps)
    grown = marks[-1] - marks[1]
    # A few memory pages more or less are the allocator's business.
    what = f"memory over {steps:,} steps, 35 followers"
    found = f"{marks[1]:.1f} MB, at the end {marks[-1]:.1f} MB"
    return [*rows, Row(what, "flat", found, abs(grown) < 2)]


def _ms(seconds: float) -> str:
    return f"{1e3 * seconds:.1f} ms"


def press_figures(quick: bool) -> list[Row]:
    """What a pupil's press in explore costs, beside a press at the class's board."""
    client = create_app(ROOT / "lessons").test_client()
    times = 20 if quick else 60

    def post(path: str, fields: dict[str, str]) -> None:
        assert client.post(f"/explore/{path}", data=fields).status_code == 200

    board = client.post("/lessons/02-ferry-ticket-machine/teach").location
    frame = explore.milliseconds(lambda number: client.post(f"{board}/forward"), times)
    rows = [Row("a press at the board, in the server", "", f"{frame:.1f} ms")]
    for name, source in (("short", explore.SHORT), ("worst", explore.WORST)):
        warm = explore.form(source.format(n=1), "forward", 3)
        kept = explore.milliseconds(lambda n, f=warm: post("press", f), times)
        new = explore.milliseconds(
            lambda n, s=source: post("press", explore.form(s.format(n=n), "end")), times // 3
        )
        found = f"{kept:.1f} ms ({kept / frame:.1f} of the board's), a new program {new:.1f} ms"
        rows.append(Row(f"a press in explore, the {name} program", "", found))
    return rows


class Room:
    """The rows of pupils of one lesson, who come and go."""

    def __init__(self, server: Server, path: str, pupils: int) -> None:
        self.server, self.path = server, path
        self.rows = [self._join() for _ in range(pupils // ROW_OF_PUPILS)]

    def _join(self) -> Followers:
        return Followers(self.server.port, f"{self.path}/stream", ROW_OF_PUPILS)

    def drop_and_join(self, at: int) -> None:
        self.rows[at].close()
        self.rows[at] = self._join()

    def drain(self) -> None:
        for each in self.rows:
            each.drain(0.001)

    def close(self) -> None:
        for each in self.rows:
            each.close()


def open_files(server: Server) -> int:
    return sum(1 for _ in Path(f"/proc/{server.process.pid}/fd").iterdir())


def school_day(quick: bool) -> list[Row]:
    """Six lessons of forty, one after the other, with presses, drops and joins."""
    presses = 60 if quick else 400
    draw = Random(1)
    drops = 0
    with (
        tempfile.TemporaryDirectory() as folder,
        Server(_lesson(folder), store=Path(folder) / "store.sqlite3") as server,
    ):
        # What is loaded at the first use belongs to the start.
        open_lesson(server)
        files, memory = [open_files(server)], [memory_of(server.process.pid)]
        for _ in range(LESSONS_A_DAY):
            board, path = open_lesson(server)
            room = Room(server, path, PUPILS)
            press = Press(server.port, f"{board}/forward")
            for at in range(presses):
                press.send()
                press.answer()
                if at % 10 == 0:
                    room.drain()
                if at % (presses // 6) == 0:
                    room.drop_and_join(draw.randrange(len(room.rows)))
                    drops += ROW_OF_PUPILS
            room.close()
            press.connection.close()
            end = Press(server.port, f"{board}/end")
            end.send()
            assert end.connection.getresponse().status == 303
            end.connection.close()
            # The server learns of who has gone when it writes to them, or looks.
            time.sleep(1)
            files.append(open_files(server))
            memory.append(memory_of(server.process.pid))
    what = f"a day: {LESSONS_A_DAY} lessons, {PUPILS} pupils, {presses} steps, {drops} drops"
    shown = ", ".join(f"{each:.1f}" for each in memory)
    growth = memory[-1] - memory[1]
    return [
        Row(what, "memory flat", f"MB after each lesson: {shown}", growth < 5),
        Row(
            "... open files",
            "none left",
            f"{files[0]} before, {files[-1]} after",
            files[-1] <= files[0],
        ),
    ]


def _lesson(folder: str) -> Path:
    lesson = Path(folder) / "loop.md"
    lesson.write_text(LESSON, encoding="utf-8")
    return lesson


def rows(quick: bool) -> list[Row]:
    return [*class_figures(quick), *press_figures(quick), *school_day(quick)]
