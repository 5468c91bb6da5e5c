"""Lessons that have been taught, with the answers of a class: for tests and benchmarks of what
comes afterwards. Which choice a pupil makes depends on a seed alone."""

from __future__ import annotations

from random import Random

from app.classroom.ballot import Asked
from app.classroom.session import Session
from app.classroom.store import Store
from app.lesson.model import Lesson


def asked_in(lesson: Lesson) -> list[Asked]:
    """Every question of a lesson, as its session would ask it."""
    session = Session("asked", lesson)
    found: list[Asked] = []
    for number in range(len(lesson.scenes)):
        session.go_to_scene(number)
        found += session.questions
    session.close()
    return found


def teach_class(
    store: Store,
    lesson: Lesson,
    name: str,
    questions: list[Asked],
    pupils: int = 28,
    seed: int = 1,
    right: float = 0.45,
) -> int:
    """Keep a lesson in which a class answered questions in two rounds; how many answers there are.
    After talking half of those who were wrong are right."""
    chance = Random(seed)
    store.add(name, lesson.slug, lesson.header.title)
    count = 0
    for asked in questions:
        store.save_asked(name, asked)
        wrong = [at for at in range(len(asked.choices)) if at != asked.answer]
        for pupil in range(pupils):
            # The first of the wrong ones most often, as in a class.
            choice = asked.answer if chance.random() < right else chance.choice([wrong[0], *wrong])
            store.save_answer(name, asked, 1, f"pupil-{pupil}", choice)
            again = asked.answer if chance.random() < 0.5 else choice
            store.save_answer(name, asked, 2, f"pupil-{pupil}", again)
            count += 2
    return count
