"""A year of use: 200 lessons with 8,000 answers, and what the pages that come afterwards cost.

``python -m tests.bench year``. Each page is asked for with the year in the store and with one day
of it, and told as how many times the processor time of a bare query: one that reads the same rows
and counts the same answers, and shows nothing.
"""

from __future__ import annotations

import json
import time
from collections import Counter
from collections.abc import Callable

from flask.testing import FlaskClient

from app import create_app
from app.classroom.store import Store
from app.paths import resource
from tests.bench.rows import Row
from tests.taught import asked_in, teach_class

LESSONS, QUESTIONS, PUPILS = 200, 2, 10  # in two rounds: 40 answers a lesson
ANSWERS = LESSONS * QUESTIONS * PUPILS * 2
PAGES = {
    "/": "the list of lessons",
    "/results": "results",
    "/again": "what to go over again",
    "/again.csv": "the same as a table",
    "/warm-up": "a warm-up chosen and made",
}
MOST_SECONDS = 0.5


def year(lessons: int) -> tuple[FlaskClient, Store, int]:
    """The pages over a store of so many lessons, and how many answers it has."""
    store = Store(None)
    web = create_app(resource("lessons"), store=store)
    shelf = web.extensions["shelf"].lessons()
    questions = {each.slug: asked_in(each) for each in shelf}
    count = 0
    for number in range(lessons):
        lesson = shelf[number % len(shelf)]
        asked = questions[lesson.slug]
        first = number // len(shelf) * QUESTIONS % max(len(asked) - QUESTIONS + 1, 1)
        chosen = asked[first : first + QUESTIONS]
        count += teach_class(store, lesson, f"lesson-{number}", chosen, PUPILS, seed=number)
    return web.test_client(), store, count


def bare(store: Store) -> None:
    """Every answer of the store counted by its mix-up, and no more."""
    database = store._database
    mixups = {
        tuple(row): json.loads(text)
        for *row, text in database.execute(
            "SELECT lesson, scene, number, version, mixups FROM asked"
        )
    }
    counts: Counter[str] = Counter()
    for *key, choice in database.execute(
        "SELECT lesson, scene, number, version, choice FROM answer"
    ):
        counts[mixups[tuple(key)][choice]] += 1
    assert sum(counts.values())


def seconds(work: Callable[[], object], rounds: int) -> float:
    """The least processor time of some rounds, once all that is kept has been kept."""
    work()
    best = float("inf")
    for _ in range(rounds):
        start = time.process_time()
        work()
        best = min(best, time.process_time() - start)
    return best


def rows(quick: bool) -> list[Row]:
    rounds = 3 if quick else 10
    client, store, count = year(LESSONS)
    assert count == ANSWERS, count
    day, little, _ = year(1)
    plain = seconds(lambda: bare(store), rounds)
    found = []
    for address, what in PAGES.items():

        def ask(of: FlaskClient, address: str = address) -> None:
            answer = of.get(address, follow_redirects=True)
            assert answer.status_code == 200, (address, answer.status_code)

        whole, one = (seconds(lambda of=of: ask(of), rounds) for of in (client, day))
        found.append(
            Row(
                f"after {LESSONS} lessons, {ANSWERS:,} answers: {what}",
                f"{MOST_SECONDS} s",
                f"{1000 * whole:.0f} ms, {whole / plain:.1f} times a bare count,"
                f" {whole / one:.1f} times that after one lesson",
                whole <= MOST_SECONDS,
            )
        )
    for each in (store, little):
        each.close()
    return found
