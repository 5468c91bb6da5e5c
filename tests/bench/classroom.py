"""A class before the real server: how late a frame comes, and whether memory grows."""

from __future__ import annotations

import contextlib
import io
import statistics
import tempfile
import time
from pathlib import Path

from app.classroom.ballot import Asked
from app.classroom.store import Store
from tests.bench.class_load import LESSON, Compared, compare, go_on, open_lesson
from tests.bench.rows import Row, percentile
from tests.server import Server

SMALL, LARGE = 35, 1000
SOON = 0.020
# A few memory pages more or less are the allocator's business.
FLAT_MEGABYTES = 2


def class_figures(quick: bool) -> list[Row]:
    frames = {SMALL: 30, 200: 15} if quick else {SMALL: 200, LARGE: 60}
    steps = 500 if quick else 10_000
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        lesson = Path(folder) / "loop.md"
        lesson.write_text(LESSON, encoding="utf-8")
        store = Path(folder) / "store.sqlite3"
        with Server(lesson, "--class-size", "2000", store=store) as server:
            board, path = open_lesson(server)
            with contextlib.redirect_stdout(io.StringIO()):
                for number, times in frames.items():
                    found = compare(server, board, path, number, times)
                    rows += every_frame(number, found) if number == SMALL else many(number, found)
                marks = go_on(server, board, path, steps)
    return [
        *rows,
        Row(
            f"memory over {steps:,} steps, {SMALL} followers",
            "flat",
            f"{marks[1]:.1f} MB after a tenth, {marks[-1]:.1f} MB at the end,"
            f" {max(marks[1:]):.1f} MB at the most",
            max(marks[1:]) - marks[1] < FLAT_MEGABYTES,
        ),
    ]


def every_frame(number: int, found: Compared) -> list[Row]:
    late = sum(each > SOON for each in found.ours)
    bare_late = sum(each > SOON for each in found.bare)
    return [
        Row(
            f"a frame to {number} followers",
            f"all within {_ms(SOON)}",
            f"p50 {_ms(statistics.median(found.ours))}, p99 {_ms(percentile(found.ours, 0.99))},"
            f" all {_ms(max(found.ours))}, {late} of {len(found.ours)} later"
            f" (bare: p50 {_ms(statistics.median(found.bare))},"
            f" p99 {_ms(percentile(found.bare, 0.99))}, all {_ms(max(found.bare))},"
            f" {bare_late} later)",
            not late,
        ),
        work(number, found),
    ]


def many(number: int, found: Compared) -> list[Row]:
    ratio = percentile(found.ours, 0.99) / percentile(found.bare, 0.99)
    middle = statistics.median(found.ours) / statistics.median(found.bare)
    return [
        Row(
            f"a frame to {number:,} followers",
            "p99 at most 1.5 of bare",
            f"p99 {ratio:.2f}, p50 {middle:.2f} of bare"
            f" (p99 {_ms(percentile(found.ours, 0.99))}, bare"
            f" {_ms(percentile(found.bare, 0.99))})",
            ratio <= 1.5,
        ),
        work(number, found),
    ]


def work(number: int, found: Compared) -> Row:
    """The processor time of the two servers, without the time of those who read."""
    return Row(
        f"... the server's processor time, {number:,} followers",
        "",
        f"{_ms(found.our_work)} a frame of {found.size / 1024:.1f} KB,"
        f" {found.our_work / max(found.bare_work, 1e-4):.1f} of bare ({_ms(found.bare_work)})",
    )


def _ms(seconds: float) -> str:
    return f"{1e3 * seconds:.1f} ms"


def kept_figures(times: int) -> Row:
    """What it costs that an answer is on the disk, beside a place that the system has to write."""
    with tempfile.TemporaryDirectory() as folder:
        store = Store(Path(folder) / "store.sqlite3")
        store.add("lesson", "loop", "A long loop")
        asked = Asked(0, 1, 1, 2, "What now?", ("1", "2"), 0)
        store.save_asked("lesson", asked)
        places, answers = [], []
        for number in range(times):
            start = time.perf_counter()
            store.save_bookmark("lesson", {"step": number})
            middle = time.perf_counter()
            store.save_answer("lesson", asked, 1, f"pupil {number}", 0)
            places.append(middle - start)
            answers.append(time.perf_counter() - middle)
        store.close()
    return Row(
        "an answer on the disk before anybody says yes",
        "",
        f"p50 {1e3 * statistics.median(answers):.2f} ms, p99 {1e3 * percentile(answers, 0.99):.2f}"
        f" ms (left to the system: p50 {1e3 * statistics.median(places):.2f} ms,"
        f" p99 {1e3 * percentile(places, 0.99):.2f} ms)",
    )


def rows(quick: bool) -> list[Row]:
    return [*class_figures(quick), kept_figures(200 if quick else 2000)]
