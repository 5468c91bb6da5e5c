"""What reading costs, over texts that would make a careless reader slow (tests/lesson/file/shapes).

For each shape the processor time of a file of 64 KB, and how many times that of half of it. What
takes less than a few milliseconds is all noise, so its factor says nothing and is not judged. The
garbage collector is paused, for what it costs depends on what else is in memory; the time of 64 KB
is taken once more with it.
"""

from __future__ import annotations

import gc
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from click.testing import CliRunner

from app import create_app
from app.authoring import check as check_lessons
from app.lesson.file.reader import read_lesson
from app.lesson.writing.differences import pieces
from app.lesson.writing.outline import outline
from app.lesson.writing.text import Text
from tests.asking import write_lesson
from tests.bench.rows import Row
from tests.lesson.file.shapes import PROGRAMS, SHAPES

# A program may have 64,000 characters.
SIZE = 64_000
MOST_FACTOR = 2.3
MOST_SECONDS = 1.0
# Its plan, quiz, worksheets and sums together: by a worker aside, where they take long.
MOST_SECONDS_ON_PAPER = 3.0
# Below this the factor is not judged.
LEAST_SECONDS = 0.01
ROUNDS = 5


def seconds(work: Callable[[str], object], text: str, rounds: int = ROUNDS) -> float:
    """The least processor time of some rounds; one is enough for what takes long."""
    best = float("inf")
    for _ in range(rounds):
        start = time.process_time()
        work(text)
        best = min(best, time.process_time() - start)
        if best > MOST_SECONDS:
            break
    return best


def measured(
    what: str,
    work: Callable[[str], object],
    shapes: dict[str, Callable[[int], str]],
    most_seconds: float = MOST_SECONDS,
) -> list[Row]:
    """A row for each shape, and one for the worst of all."""
    rows = []
    worst_factor = worst_time = 0.0
    for name, make in shapes.items():
        half, whole = make(SIZE // 2), make(SIZE)
        gc.collect()
        gc.disable()
        try:
            before, after = seconds(work, half), seconds(work, whole)
        finally:
            gc.enable()
        collected = seconds(work, whole, 2)
        judged = after > LEAST_SECONDS
        factor = after / before
        worst_time = max(worst_time, collected)
        worst_factor = max(worst_factor, factor if judged else 0.0)
        rows.append(
            Row(
                f"{what}: {name}",
                "",
                f"{f'{factor:.2f} times' if judged else '-'}, {1000 * collected:.0f} ms",
                collected < most_seconds and (not judged or factor <= MOST_FACTOR),
            )
        )
    return [
        *rows,
        Row(
            f"{what}: the worst of {len(shapes)} shapes",
            f"{MOST_FACTOR} times, {most_seconds:.0f} s",
            f"{worst_factor:.2f} times for twice as much; {worst_time:.2f} s for {SIZE // 1000} KB",
            all(each.reached for each in rows),
        ),
    ]


def rows(quick: bool) -> list[Row]:
    """All shapes; a quick run shows only the worst and what is not reached."""
    with tempfile.TemporaryDirectory() as folder:
        client = create_app(write_lesson(Path(folder))).test_client()
        turn = 0

        def check(program: str) -> None:
            nonlocal turn
            turn += 1
            # Another program each time, so that none is known from before.
            form = {"machine": "16-bit", "program": f"{program}\n;{turn}"}
            answer = client.post("/explore/check", data=form)
            assert answer.status_code == 200, answer.text[:200]

        file = Path(folder) / "shape.md"

        def check_file(text: str) -> None:
            file.write_text(f"{text}\n", encoding="utf-8")
            CliRunner().invoke(check_lessons, [str(file)])

        def print_lesson(text: str) -> None:
            # Read anew, as it is by a worker that is asked for the first time.
            file.write_text(f"{text}\n", encoding="utf-8")
            for name in ("plan", "quiz", "worksheets", "sums"):
                client.get(f"/paper/shape/{name}")

        found = measured("lesson file", lambda text: read_lesson("shape", text), SHAPES)
        found += measured("the check of a file", check_file, SHAPES)
        found += measured("a lesson on paper", print_lesson, SHAPES, MOST_SECONDS_ON_PAPER)
        found += measured("a pupil's program", check, PROGRAMS)
        found += measured("lines of a lesson", lambda text: outline(Text.of(text).lines), SHAPES)
        found += measured("two versions", lambda text: pieces(text, text[::-1]), SHAPES)
    return [each for each in found if each.reach or not each.reached] if quick else found
