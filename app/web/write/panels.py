"""The forms for what is written by pointing, each filled in with what is so at its place."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from flask import render_template

from app.lesson.blocks.cues import ROOM_FOR_WORDS
from app.lesson.entries import Wrong
from app.lesson.header import Depth, Press
from app.lesson.model import Scene
from app.lesson.places import read_when
from app.lesson.pressing import MOST_COUNTED, Pressing
from app.lesson.timeline import Span
from app.lesson.writing import asking_here, heading, saying
from app.lesson.writing.asking_here import askings
from app.lesson.writing.in_words import in_words
from app.lesson.writing.manuscript import Manuscript
from app.lesson.writing.offers import best, phase_at, since, step_numbered, to_ask, to_say
from app.lesson.writing.whereabouts import Whereabouts
from app.lesson.writing.whole_parts import FIRST_PROGRAM, cases_of

from .changes import cue_line, line_of, question_line, words

Said = dict[str, Any]
LATE = "end"
MOST_USUAL = 10


def _running(text: Manuscript, at: Whereabouts) -> Scene:
    """The scene at a place, if it has a run in which something can be said."""
    scene = text.scene(at.scene)
    if scene.scale:
        what = "This scene is a zoom: its words stand in the text, one station a line."
        raise Wrong(what, "Go to a scene with a program.")
    if not scene.program.words:
        raise Wrong("This scene has no program, so no moment comes.", "Add a program first.")
    return scene


def _say(text: Manuscript, at: Whereabouts, said: Said) -> str:
    scene = _running(text, at)
    offers = to_say(scene, at.step)
    cue = scene.cue_sheet.at(at.step, since(scene, at.step) if at.step else None, at.said)
    chosen = best(offers, _phase(scene, at, said))
    return render_template(
        "write/say.html", offers=offers, best=chosen, cue=cue, step=at.step, room=ROOM_FOR_WORDS
    )


def _phase(scene: Scene, at: Whereabouts, said: Said) -> Span | None:
    """The phase that was chosen in the run at a glance, if the board was led to one there."""
    return phase_at(scene, at.step) if said.get("whole") is True else None


def _reword(text: Manuscript, at: Whereabouts, said: Said) -> str:
    scene = text.scene(at.scene)
    # While the form is open the board may go elsewhere, and the cue with it.
    here = scene.cue_sheet.at(at.step, since(scene, at.step) if at.step else None, at.said)
    cue = saying.cue_on(text, at.scene, cue_line(scene, said)) if line_of(said) else here
    if cue is None:
        raise Wrong("No cue stands here.", "Say something here instead.")
    offers = saying.places_to_move(text, at.scene, at.step, cue.line)
    return render_template(
        "write/reword.html",
        cue=cue,
        was=saying.as_written(cue),
        offers=offers,
        taken=here.words if here and here.line != cue.line and not offers else "",
        best=best(offers, _phase(scene, at, said)),
        kept=cue.text,
        kept_in_words=in_words(cue.when, scene.unit),
        scene=at.scene,
        step=at.step,
        room=ROOM_FOR_WORDS,
    )


def _ask(text: Manuscript, at: Whereabouts, said: Said) -> str:
    scene = _running(text, at)
    line = question_line(scene, said)
    asked = asking_here.question_on(scene, line) if line else None
    if line_of(said) and not asked:
        raise Wrong("There is no such question any more.", "Choose it on the board again.")
    usual, lates = "", {"": "right after this", LATE: "at the end of the run"}
    if asked:
        written, found_so = asked
        at = replace(at, step=found_so.step)
        typed = asking_here.as_typed(text, written, found_so.choices[found_so.answer])
        usual = typed.get("place", "")
        if written.answered is not None and typed["late"] not in lates:
            lates[typed["late"]] = in_words(written.answered, scene.unit)  # as the file has it
        # It is asked anew: all that it could be is looked for without it.
        scene = scene.with_asked(each for each in scene.asked if each.line != line)
        if "subject" not in said:
            said = typed | said
    late = words(said, "late")
    late = late if late in lates else ""
    places = (
        sorted(
            (each for each in to_say(scene, at.step) if each.times == 1),
            key=lambda each: not each.begins,
        )
        if late
        else to_ask(scene, at.step)
    )
    if not places and not late and not scene.run.reaches(at.step + 1):
        raise Wrong("The run is over here, so nothing comes to ask about.", "Go a step back.")
    if late and not places:
        # A cue of one step stands here; the step itself is a place to ask at.
        names = [step_numbered(scene, at.step) if at.step else "start"]
    else:
        names = [each.place for each in places]
    if usual and usual not in names:
        names.insert(0, usual)
    if not names:
        raise Wrong("Nothing can be asked here.", "Go back towards the start of the scene.")
    place = words(said, "place")
    place = place if place in names else names[0]
    found = askings(scene, place, late, bool(late))
    found = [each for each in found if each.asked.step == at.step]
    if not found:
        raise Wrong("Nothing can be asked here.", "Go a step on or back.")
    subject = words(said, "subject")
    chosen = next((each for each in found if each.subject == subject), found[0])
    machine = scene.program.machine
    # A question means the first time.
    whens = {each: read_when(each, "first", machine) for each in names}
    said_of = {name: in_words(when, scene.unit) for name, when in whens.items()}
    return render_template(
        "write/ask.html",
        said_of=said_of,
        place=place,
        found=found,
        chosen=chosen,
        late=late,
        lates=lates,
        changed=line if asked else 0,
        was=asked[0].prompt if asked else "",
        prompt=words(said, "prompt") if asked and words(said, "prompt") else chosen.prompt,
        said=said if asked else {},
    )


def _scene(text: Manuscript, at: Whereabouts, said: Said) -> str:
    return render_template("write/scene.html")


def _inputs(text: Manuscript, at: Whereabouts, said: Said) -> str:
    scene = text.scene(at.scene)
    machine = scene.program.machine
    values = ", ".join(str(machine.signed(each)) for each in scene.inputs)
    return render_template("write/inputs.html", values=values, scene=at.scene)


def _task(text: Manuscript, at: Whereabouts, said: Said) -> str:
    scene = text.scene(at.scene)
    machine = scene.program.machine
    # Where there is no task yet, the inputs of the scene are as good as any to try it with.
    tried = [each.inputs for each in scene.task.cases] if scene.task else [scene.inputs]
    lines = [", ".join(str(machine.signed(each)) for each in inputs) for inputs in tried]
    source = (scene.solution or scene.program).source.strip("\n") or "\n".join(FIRST_PROGRAM)
    fields = {"solution": source, "inputs": "\n".join(lines)}
    fields |= {name: words(said, name) for name in fields if name in said}
    cases, trouble = [], ""
    try:
        cases = cases_of(scene, fields["solution"], fields["inputs"])
    except Wrong as wrong:
        trouble = f"{wrong.what} {wrong.mend}"
    return render_template(
        "write/task.html",
        cases=cases,
        trouble=trouble,
        scene=at.scene,
        goal=scene.task.goal if scene.task else "",
        **fields,
        has_program=bool(scene.program.words),
    )


def _about(text: Manuscript, at: Whereabouts, said: Said) -> str:
    lesson = text.lesson
    if lesson.faults:
        raise Wrong(f"Line {lesson.faults[0].line} has a fault.", "Mend it first.")
    now = heading.said(lesson.header)
    now |= {name: words(said, name) for name in now if name in said}
    depth = Depth(now["depth"]) if now["depth"] in list(Depth) else lesson.header.depth
    finest = Press.PHASE if depth is Depth.PHASES else Press.TRANSFER
    press = Press(now["press"]) if now["press"] in list(Press) else finest
    scene = lesson.scenes[at.scene] if at.scene < len(lesson.scenes) else None
    presses = Pressing(scene, depth, press).count if scene and scene.program.words else 0
    return render_template(
        "write/about.html", now=now, presses=presses, many=presses >= MOST_COUNTED
    )


def _words(text: Manuscript, at: Whereabouts, said: Said) -> str:
    header = text.lesson.header
    say = header.wording.say
    # First what nearly every program has: no number of its own, no condition.
    plain = [each for each in header.machine.instructions if not re.search("#| ..", each.written)]
    usual = plain[:MOST_USUAL][::-1]
    rarer = [each for each in header.machine.instructions if each not in usual]
    return render_template(
        "write/words.html", machine=header.machine, say=say, usual=usual, rarer=rarer
    )


PANELS: dict[str, Callable[[Manuscript, Whereabouts, Said], str]] = {
    "say": _say,
    "reword": _reword,
    "ask": _ask,
    "scene": _scene,
    "inputs": _inputs,
    "task": _task,
    "about": _about,
    "words": _words,
}
