"""Letting the class in and shutting it out: what the teacher presses."""

from __future__ import annotations

from flask import Blueprint, abort, render_template

from app.web.rooms import room_or_404
from app.web.sharing import sharing_now

blueprint = Blueprint("share", __name__)


@blueprint.get("/board/<name>/invitation")
def invitation(name: str) -> str:
    """How the class joins, as it is now."""
    return render_template("follow/invitation.html", room=room_or_404(name))


@blueprint.post("/board/<name>/share/<action>")
def share(name: str, action: str) -> str:
    """Let the class in, or shut it out; answers with how it joins now."""
    room = room_or_404(name)
    sharing = sharing_now()
    if action not in ("open", "shut") or not sharing.can_change:
        abort(404, "There is no such thing to do with the class.")
    if action == "open":
        sharing.let_in()
    else:
        sharing.shut_out()
    return render_template("follow/invitation.html", room=room)
