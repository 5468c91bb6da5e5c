"""What the page shows: the board at a place of the draft, what is wrong in it, what stands here."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from app.board.frames import make_frame
from app.classroom.course import course_of
from app.classroom.session import Session
from app.classroom.view import View
from app.lesson.blocks.actions import SPEEDS
from app.lesson.header import ONLY_IN_TRANSFERS, Depth
from app.lesson.parts import titles_of
from app.lesson.pressing import Pressing
from app.lesson.writing.glance import glance
from app.lesson.writing.in_words import in_words
from app.lesson.writing.pointing import pauses
from app.lesson.writing.saying import as_written
from app.lesson.writing.whereabouts import Whereabouts, lines_of
from app.machine.source.problems import lines_of as text_lines

from .desk import Desk

Way = Callable[[Session], None]


def session_at(desk: Desk, place: Whereabouts, way: Way | None = None) -> Session | None:
    """The board at a place, or as near to it as the lesson has it; None without a good version."""
    if desk.good is None:
        return None
    lesson = desk.good.lesson
    session = Session("write", lesson)
    session.go_to_scene(min(place.scene, len(lesson.scenes) - 1))
    session.go_to_nearest(place.step, place.said)
    if way:
        way(session)
    return session


def _is_over(view: View) -> bool:
    """Whether the board can go no step on: the scene ends there."""
    more_said = not view.step and view.said < view.scene.cue_sheet.last_said(None)
    following = course_of(view.scene).on(view.step, view.scene.depth)
    return following == view.step and not more_said


def shown(
    desk: Desk, place: Whereabouts, way: Way | None = None, around: int = 0
) -> dict[str, Any]:
    """All that the templates of the page need; under ``sent`` what the page keeps of it. The run
    is shown around the instruction of the number ``around``, of the place where that is 0."""
    session = session_at(desk, place, way)
    problems = desk.now.lesson.problems
    state: dict[str, Any] = {
        "lesson": desk.now.lesson,
        "lines": text_lines(desk.draft.text),
        "problems": problems,
        "draft": desk.draft,
        "frame": None,
        "glance": None,
        "still": False,
        "sent": {
            "scene": 0,
            "step": 0,
            "said": 0,
            "marks": [],
            "unsaved": desk.draft.unsaved,
            "undo": bool(desk.draft.done),
            "redo": bool(desk.draft.undone),
            "writable": False,
            "over": False,
            "machine": "",
            "title": desk.now.lesson.header.title,
        },
    }
    if session is None or desk.good is None:
        return state
    view = session.view()
    scene = view.scene
    frame = make_frame(view)
    said = view.said if not view.step else 0
    at = Whereabouts(view.scene_number, view.step, said)
    # In whole phases the class never sees some of them.
    titles = titles_of(view.lesson.header.machine)
    never = ONLY_IN_TRANSFERS if view.settings.depth is Depth.PHASES else frozenset()
    offered = [each for each in titles if each not in never] if frame.has_parts else []
    parts = {each: frame.say(titles[each]) for each in offered}
    current = desk.good.source == desk.draft.text
    pressing = Pressing(scene, scene.depth)
    writable = current and bool(scene.program.words)
    state["frame"] = frame
    state["sent"] |= {
        "scene": at.scene,
        "step": at.step,
        "said": at.said,
        "marks": lines_of(desk.good, at) if current else [],
        "machine": frame.page_key,
        "writable": writable,
        "over": _is_over(view),
    }
    return state | {
        "view": view,
        "glance": glance(scene, view.step, around),
        "current": current,
        "writable": writable,
        "cue": view.cue if writable else None,
        "cue_written": as_written(view.cue) if view.cue else "",
        "cue_in_words": in_words(view.cue.when, scene.unit) if view.cue else "",
        "questions": [
            each for each in scene.questions if writable and pressing.ask_step(each) == view.step
        ],
        "part_titles": parts,
        "hidden_parts": {each: title for each, title in parts.items() if each in view.hidden},
        "pauses": writable and pauses(scene, view.step),
        "speeds": SPEEDS,
        "speed": scene.cue_sheet.speed(view.step, said) or 1.0 if writable else 1.0,
        "any_said": any(each.cues or each.asked for each in view.lesson.scenes),
    }
