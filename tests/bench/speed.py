"""How fast the model runs, beside the bare loop, and how fast any step of a long run is reached.

Processor time, not the clock's: how busy the machine is otherwise does not matter.
"""

from __future__ import annotations

import statistics
import tempfile
import time
import tracemalloc
from collections import deque
from collections.abc import Callable, Sequence
from pathlib import Path
from random import Random

from app import create_app
from app.machine.machine import SIXTEEN_BIT
from app.machine.run import Run
from app.machine.source.assembler import assemble
from tests.bench.bare import interpret, same_end
from tests.bench.rows import Row, percentile

# What lessons do: counting, adding up what is stored, comparing and jumping about.
PROGRAMS = {
    "counting": "again: ADD #1\nJUMP again\n",
    "storing": "again: LOAD x\nADD #1\nSTORE x\nCOMPARE #90\nJUMP again\nx: 0\n",
    "adding up": """
start:  LOAD  #200
        STORE left
        LOAD  #0
        STORE total
loop:   LOAD  total
        ADD   seven
        STORE total
        LOAD  left
        SUBTRACT #1
        STORE left
        JUMP  loop IF MORE
        LOAD  total
        COMPARE seven
        JUMP  start IF EQUAL
        JUMP  start
seven:  7
left:   0
total:  0
""",
    "deciding": """
start:  COMPARE #3
        JUMP  small IF LESS
        OUTPUT
        LOAD  #0
        JUMP  start
small:  ADD   #1
        SUBTRACT none
        JUMP  start IF MORE
none:   0
""",
}
LONG_STEPS = 1_000_000
LONG_LESSON = f"""---
title: A long loop
machine: 16-bit
limit: {LONG_STEPS}
---

# Round and round

```program
{PROGRAMS["storing"]}```
"""
MEGABYTE = 1024 * 1024


def words_of(source: str) -> Sequence[int]:
    program = assemble(SIXTEEN_BIT, source)
    assert not program.problems, program.problems
    return program.words


def run_of(source: str, instructions: int) -> Run:
    return Run(SIXTEEN_BIT, words_of(source), (), instructions)


def seconds(work: Callable[[], object]) -> float:
    start = time.process_time()
    work()
    return time.process_time() - start


def of_bare(
    bare: Callable[[], object], works: dict[str, Callable[[], object]], rounds: int
) -> dict[str, float]:
    """How many times the bare loop's processor time each takes: the middle of many short rounds.

    In each the bare loop comes before and after, so that a moment in which the processor is slow
    (its other half is busy, say) is slow for all of them.
    """
    found: dict[str, list[float]] = {name: [] for name in works}
    for _ in range(rounds):
        for name, work in works.items():
            before, time, after = seconds(bare), seconds(work), seconds(bare)
            found[name].append(2 * time / (before + after))
    return {name: statistics.median(each) for name, each in found.items()}


def against_bare(quick: bool) -> list[Row]:
    instructions = 60_000
    fast, every = [], []
    for name, source in PROGRAMS.items():
        words = words_of(source)

        def run(words: Sequence[int] = words) -> Run:
            return Run(SIXTEEN_BIT, words, (), instructions)

        times = of_bare(
            lambda w=words: interpret(SIXTEEN_BIT, w, (), instructions),
            {
                "headless": lambda r=run: r().finish(),
                "steps": lambda r=run: deque(r().steps(), maxlen=0),
            },
            7 if quick else 41,
        )
        assert same_end(interpret(SIXTEEN_BIT, words, (), instructions), run()), name
        fast.append(1 / times["headless"])
        every.append(times["steps"])
    names = ", ".join(PROGRAMS)
    return [
        Row(
            "headless run, of the bare loop's speed",
            "at least 0.5",
            f"{', '.join(f'{each:.2f}' for each in fast)} ({names})",
            min(fast) >= 0.5,
        ),
        Row(
            "run with every step, times the bare loop",
            "at most 6",
            f"{', '.join(f'{each:.1f}' for each in every)} ({names})",
            max(every) <= 6,
        ),
    ]


def any_step(quick: bool) -> list[Row]:
    """Steps of a run of a million, entered in any order."""
    source = PROGRAMS["storing"]
    limit = LONG_STEPS  # in instructions: more than enough
    run = run_of(source, limit)
    first = seconds(lambda: run.moment(1))
    known = run.known_steps
    working_out = seconds(lambda: run.moment(LONG_STEPS))
    draw = Random(1)
    times = []
    for _ in range(500 if quick else 3000):
        step = draw.randint(1, LONG_STEPS)
        times.append(seconds(lambda at=step: run.moment(at)))
    tracemalloc.start()
    again = run_of(source, limit)
    for _ in range(50):
        again.moment(draw.randint(LONG_STEPS // 2, LONG_STEPS))
    again.moment(LONG_STEPS)
    peak = tracemalloc.get_traced_memory()[1] / MEGABYTE
    tracemalloc.stop()
    late = percentile(times, 0.99)
    return [
        Row(
            "go to any of 1,000,000 steps, p99",
            "under 5 ms",
            f"{1e3 * late:.2f} ms (median {1e3 * statistics.median(times):.2f})",
            late < 0.005,
        ),
        Row("... its memory at the most", "under 64 MB", f"{peak:.1f} MB", peak < 64),
        Row(
            "... the first step",
            "not the rest",
            f"{1e3 * first:.2f} ms, {known} steps worked out (all of them:"
            f" {1e3 * working_out:.0f} ms)",
            known < 100,
        ),
        *on_the_board(quick),
    ]


def on_the_board(quick: bool) -> list[Row]:
    """The same run in a lesson: what the server does, drawing the frame, but not sending it."""
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "long.md").write_text(LONG_LESSON, encoding="utf-8")
        web = create_app(Path(folder))
        client = web.test_client()
        page: list[str] = []

        def open_it() -> None:
            page.append(client.post("/lessons/long/teach").location)
            assert client.get(page[0]).status_code == 200

        first = seconds(open_it)
        room = web.extensions["rooms"].get(page[0].rsplit("/", 1)[1])
        known = room.session.view().scene.run.known_steps
        room.session.go_to_step(LONG_STEPS)
        draw = Random(2)

        def go() -> None:
            room.session.go_to_step(draw.randint(1, LONG_STEPS))
            room.followers.message.text(still=False)

        times = [seconds(go) for _ in range(200 if quick else 1000)]
    return [
        Row(
            "... opened as a lesson, which is checked first",
            "",
            f"{1e3 * first:.0f} ms, {known:,} steps followed by the check",
        ),
        Row(
            "... any step as a frame of the board, p99",
            "",
            f"{1e3 * percentile(times, 0.99):.2f} ms (median {1e3 * statistics.median(times):.2f})",
        ),
    ]


def rows(quick: bool) -> list[Row]:
    return [*against_bare(quick), *any_step(quick)]
