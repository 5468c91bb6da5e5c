"""How the board shows a lesson, set as a teacher sets it: by the controls."""

from __future__ import annotations

from app.classroom.session import Session

MOST_PRESSES = 10


def show_with(session: Session, **wanted: object) -> None:
    """Press the controls until the settings of these names have these values."""
    for name, value in wanted.items():
        for _ in range(MOST_PRESSES):
            now = getattr(session.view().settings, name)
            if now == value:
                break
            session.change(name if name != "speed" else "faster" if value > now else "slower")
        assert getattr(session.view().settings, name) == value
