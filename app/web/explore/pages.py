"""Pupils explore: a machine of their own with a program that they can change.

The server keeps nothing of a pupil: every press sends the work (``work.py``), and the
answer is the board's own frame of it (``trial.py``). The work itself lives in the pupil's
browser.
"""

from __future__ import annotations

from random import SystemRandom

from flask import Blueprint, Response, abort, g, make_response, render_template, request

from app.board.controls import INSIDE_CONTROLS, VOICE, Control, named
from app.board.drawing import Form, drawing
from app.board.frames import make_frame
from app.classroom.finished import task_key
from app.classroom.store import StoreError
from app.lesson.asking.predictions import Field, Prediction, Unreadable
from app.lesson.blocks.task import check_task
from app.lesson.file.reader import slug_of
from app.lesson.file.warm_up import read_name
from app.lesson.header import Depth
from app.lesson.model import Lesson, Scene
from app.lesson.paper.plan import homework
from app.lesson.places import ordinal
from app.machine.growing import key_of
from app.machine.instructions import Phase
from app.machine.machine import EIGHT_BIT, MACHINES, machine_with
from app.machine.run import DEFAULT_LIMIT
from app.machine.source.assembler import Program
from app.machine.source.numbers import write_numbers
from app.machine.telling.wording import Wording
from app.web.access import cookie, is_teacher, open_to_class, way_on
from app.web.rooms import CLASS_COOKIE, LessonAway, Room, rooms
from app.web.shelf import shelf
from app.web.workers import get_ready, given, has_workers, pass_on

from .memory import LONGEST_WORD, WrongWord, rewrite, words
from .set_task import SetTask, set_task
from .trial import ACTIONS, Position, go, trial
from .work import (
    LARGEST_STEP,
    LONGEST_INPUTS,
    Work,
    read_inputs,
    read_work,
    whole_number,
    write_requests,
)

blueprint = Blueprint("explore", __name__, url_prefix="/explore")

# The header that tells that the task is done. A worker, which knows no class, says so alone.
DONE = "Task-Done"

NEW_TASK = "Your teacher has changed this task. Load the page again to read it: your program stays."

# Only where the machine can be interrupted.
RING_CONTROLS = (
    Control("bell", "move", "Bell", "A request comes now", ("a",), "bell"),
    Control("take-back", "move", "Take back", "Take the last request back", ("x",), "take-back"),
)
EXPLORE_CONTROLS = (
    *named(
        "back forward play phase instruction instruction-back restart"
        " slower faster movement depth base theme help"
    ),
    *RING_CONTROLS,
    *INSIDE_CONTROLS,
    Control("end", "move", "To the end", "Run to the end", ("End", "e"), "end"),
    Control("line", "move", "Run to line", "Run to the line of the cursor", ("l",), "line"),
    VOICE,
    Control("editor", "page", "Edit", "To the program (Escape leads back)", ("w",)),
)


@blueprint.before_request
def worked_out() -> Response | None:
    """What is sent here is worked out where it cannot hold up the board."""
    if request.method != "POST":
        get_ready()
        return None
    if request.endpoint == "explore.task" and has_workers():
        return pass_on(_set_task(**request.view_args or {}))
    return pass_on()


@blueprint.after_request
def tell_class(response: Response) -> Response:
    """Who follows the lesson whose task this is gets something to prove with that it is done."""
    if DONE in response.headers and request.view_args:
        room = _room_of(request.view_args["slug"])
        if room:
            proof = rooms().names.proof(room.name, g.task)
            response.headers[DONE] = f"/class/{room.code}/done {proof}"
    return response


# Pages.


@blueprint.get("/")
@open_to_class
def blank() -> str:
    """A machine with an empty program."""
    machine = request.args.get("machine", EIGHT_BIT.name)
    if machine not in MACHINES:
        abort(404, "There is no such machine. Choose the 8-bit or the 16-bit one.")
    habits = shelf().habits()
    plain = machine_with(MACHINES[machine], habits.machine.counter_moves)
    return _page(Scene("", 1, "", Program(plain, ""), (), 1), None, 0, habits.wording)


@blueprint.get("/<slug>/<int:number>")
@open_to_class
def scene(slug: str, number: int) -> str:
    """The machine with the program of a scene, counted from 1."""
    lesson = _lesson_or_404(slug)
    if not 1 <= number <= len(lesson.scenes):
        abort(404, f"The lesson has no such scene. {way_on()}")
    shown = lesson.scenes[number - 1]
    return _page(shown, lesson, number, lesson.header.wording)


def _lesson_or_404(slug: str) -> Lesson:
    """The lesson: in the version that the class has which this pupil follows, and for everybody
    else as the file is; while that has a fault, or is away, the version before. What is being
    taught is no worse for what the teacher is writing. A warm-up, which any name would make, pupils
    get only where it is being taught."""
    room = _room_of(slug)
    if room:
        return room.session.lesson
    if not is_teacher() and read_name(slug) and shelf().file(slug) is None:
        lesson = rooms().version_of(slug)
    else:
        lesson = shelf().good_lesson(slug) or rooms().version_of(slug)
    if lesson is None:
        _wait_for_class()
        abort(404, f"There is no such lesson to try. {way_on()}")
    return lesson


def _wait_for_class() -> None:
    """Says so where the lesson that this pupil followed last has none to be read just now."""
    code = "" if _class_room() else rooms().names.code(cookie(CLASS_COOKIE))
    why = rooms().why_none(code=code) if code else None
    if isinstance(why, LessonAway):
        raise why


def _page(shown: Scene, lesson: Lesson | None, number: int, wording: Wording) -> str:
    machine = shown.program.machine
    depth = lesson.scenes[number - 1].depth if lesson else Depth.TRANSFERS
    stage = lesson.header.show if lesson else None
    form = {
        "machine": key_of(machine),
        "counter": machine.counter_moves or "last",
        "words": ", ".join(wording.names),
        "program": shown.program.source,
        "inputs": " ".join(str(machine.signed(each)) for each in shown.inputs),
        "requests": write_requests(machine, shown.requests),
        "bell": str(machine.signed(shown.bell)),
        "depth": depth.value,
        "unseen": "status" if stage is not None and "status" not in stage else "",
        "title": lesson.header.title if lesson else "",
        "gates": (lesson.header if lesson else shelf().habits()).gates.value,
        "characters": "yes" if lesson and lesson.header.characters else "",
        "about": lesson.scenes[number - 1].title if lesson else f"The {machine.name} machine",
    }
    work = read_work(form)
    position = go(work, "here")
    room = _class_room()
    return render_template(
        "explore/explore.html",
        inputs=form["inputs"],
        requests=form["requests"],
        bell=form["bell"],
        lesson=lesson,
        number=number,
        task=shown.task,
        task_key=task_key(number - 1, shown)[1] if shown.task else "",
        makes_up=bool(lesson and lesson.scenes[number - 1].solution),
        homework=homework(lesson.scenes[number - 1]) if lesson else (),
        drawings=[drawing(each, machine) for each in (Form.SQUARE, Form.TALL)],
        controls={
            each.name: each
            for each in EXPLORE_CONTROLS
            if machine.interrupt or each not in RING_CONTROLS
        },
        class_code=room.code if room else "",
        others=_others(lesson),
        teacher=is_teacher(),
        **_checked(work),
        **_seen(position, still=True),
    )


def _others(lesson: Lesson | None) -> list[Lesson]:
    """The lessons whose programs are offered beside this one: those that a class has been taught,
    and this one, in the order of the shelf."""
    try:
        taught = {each.slug for each in rooms().store.lessons()}
    except StoreError:
        # What is on the page works all the same; the teacher's own pages tell what is wrong.
        taught = {room.session.lesson.slug for room in rooms().under_way()}
    if lesson:
        taught.add(lesson.slug)
    # Of the others nothing is read: that would keep the whole class waiting for the first of them.
    read = shelf().each(each for each in shelf().files() if slug_of(each) in taught)
    versions = (lesson if lesson and each.slug == lesson.slug else each for each in read)
    found = (each for each in versions if each.can_be_taught)
    return [each for each in found if any(scene.program.words for scene in each.scenes)]


def _class_room() -> Room | None:
    """The running lesson that this pupil followed last."""
    code = rooms().names.code(cookie(CLASS_COOKIE))
    return rooms().of_code(code) if code else None


def _room_of(slug: str) -> Room | None:
    """The same, where it is the lesson of this name."""
    room = _class_room()
    return room if room and room.session.lesson.slug == slug else None


# Presses.


@blueprint.post("/press")
@open_to_class
def press() -> str | Response:
    """Do what a button says, and answer with the frame; or, in predict mode, ask first."""
    work = read_work(request.form)
    action = request.form.get("go", "")
    if action not in ACTIONS:
        abort(400, "'go' must name a control of this page.")
    problem = _first_problem(work)
    if problem:
        return _elsewhere("#note", f"{problem} Then the machine can run.")
    if action == "forward" and work.predict:
        question = _question(work)
        if question:
            return question
    return _answer(go(work, action, whole_number(request.form, "at", LARGEST_STEP)))


@blueprint.post("/check")
@open_to_class
def check() -> str:
    """What is wrong with the program and the inputs; where nothing is, the machine at its start."""
    work = read_work(request.form)
    seen = {} if _first_problem(work) else _seen(go(work, "here"), still=True)
    return render_template("explore/check.html", **_checked(work), **seen)


@blueprint.post("/give")
@open_to_class
def give() -> str:
    """What is wrong with an input that is given to the waiting machine; empty where nothing is."""
    work = read_work(request.form)
    inputs = read_inputs(work.machine, request.form.get("given", "")[: LONGEST_INPUTS + 1])
    words = "" if inputs.values else "Write a number such as 7."
    if inputs.fault:
        words = f"{inputs.fault.what} {inputs.fault.mend}"
    return render_template("explore/note.html", words=words)


@blueprint.post("/mark")
@open_to_class
def mark() -> str | Response:
    """Mark a prediction, and show the step that it was about."""
    work = read_work(request.form)
    problem = _first_problem(work)
    if problem:
        return _elsewhere("#note", f"{problem} Then the machine can run.")
    prediction = _prediction(work)
    if prediction is None:
        return _answer(go(work, "here"))
    try:
        marked = prediction.mark(_said())
    except Unreadable as error:
        return _ask(prediction, error)
    position = go(work, "forward")
    return render_template("explore/marked.html", marked=marked, **_seen(position))


@blueprint.post("/memory")
@open_to_class
def memory() -> str:
    """Every word of memory, to be looked at and changed. A word that could not be written last
    time comes along (``wrong`` its address, ``word`` what was typed), and is not lost."""
    work = read_work(request.form)
    program = work.program
    wrong = None
    if "wrong" in request.form and not program.problems:
        _, wrong = _change(program, whole_number(request.form, "wrong", LARGEST_STEP))
    return _memory(work, wrong)


@blueprint.post("/memory/<int:address>")
@open_to_class
def change(address: int) -> str:
    """Change a word of memory by rewriting its line of the program."""
    work = read_work(request.form)
    program = work.program
    if program.problems:
        return _memory(work)
    source, wrong = _change(program, address)
    if wrong:
        return _memory(work, wrong)
    changed = read_work({**request.form, "program": source, "step": "0"})
    return _memory(changed, rewritten=source)


def _change(program: Program, address: int) -> tuple[str, WrongWord | None]:
    """The program's text with the word that was sent in its place; or what is wrong with that."""
    written = request.form.get("word", "")
    try:
        return rewrite(program, address, written), None
    except ValueError as error:
        return program.source, WrongWord(address, written[:LONGEST_WORD], str(error))


def _memory(work: Work, wrong: WrongWord | None = None, rewritten: str | None = None) -> str:
    made = trial(work)
    now = None
    if not made.program.problems and made.program.words:
        with made.lock:
            step = work.step if made.run.reaches(work.step) else made.run.last_step
            now = made.run.moment(step).after.memory
    return render_template(
        "explore/memory.html",
        program=made.program,
        words=words(made.program, work.settings.base, now, work.wording),
        wrong=wrong,
        rewritten=rewritten,
    )


@blueprint.post("/<slug>/<int:number>/task")
@open_to_class
def task(slug: str, number: int) -> str | Response:
    """Check the program on the hidden inputs of the scene's task."""
    handed = given()
    wanted = handed if isinstance(handed, SetTask) else _set_task(slug, number)
    work = read_work(request.form)
    program = work.program
    problem = _first_problem(work) or ("" if program.words else "Write a program first.")
    if problem:
        return render_template("explore/task.html", outcome=None, problem=problem)
    further = wanted.task.further(wanted.solution, SystemRandom(), DEFAULT_LIMIT)
    outcome = check_task(program, wanted.task, DEFAULT_LIMIT, further)
    case = outcome.first_failing_case
    response = make_response(
        render_template(
            "explore/task.html",
            outcome=outcome,
            problem="",
            inputs=write_numbers(work.machine, case.inputs) if case and case.inputs else "",
        )
    )
    if outcome.passed:
        response.headers[DONE] = "yes"
    return response


def _set_task(slug: str, number: int) -> SetTask:
    """The task of a scene, counted from 1, in the version that the class has."""
    lesson = _lesson_or_404(slug)
    if not 1 <= number <= len(lesson.scenes):
        abort(404, f"The lesson has no such scene. {way_on()}")
    found = set_task(lesson.scenes[number - 1])
    if found is None:
        abort(404, "This scene has no task.")
    # What is proved is that this one is done, whatever the class has by then.
    g.task = task_key(number - 1, lesson.scenes[number - 1])
    # The page names the task that stands on it: its pupil has not read another one yet.
    if request.args.get("task", g.task[1]) != g.task[1]:
        abort(make_response(render_template("explore/task.html", outcome=None, problem=NEW_TASK)))
    return found


# Parts of answers.


def _seen(position: Position, still: bool = False) -> dict[str, object]:
    """What the frame and the page's own facts about it are drawn from."""
    return {"frame": make_frame(position.view), "position": position, "still": still}


def _answer(position: Position) -> str:
    return render_template("explore/answer.html", **_seen(position))


def _elsewhere(target: str, words: str) -> Response:
    """A sentence in another place than the one that the press asked for."""
    response = make_response(render_template("explore/note.html", words=words))
    response.headers["HX-Retarget"] = target
    return response


def _first_problem(work: Work) -> str:
    program = work.program
    if program.problems:
        return f"Line {program.problems[0].line} of the program needs mending first."
    if work.inputs.fault:
        return f"The inputs need mending first. {work.inputs.fault.mend}"
    return ""


def _checked(work: Work) -> dict[str, object]:
    """What the page says about the program and the inputs."""
    return {"work": work, "program": work.program, "say": work.wording.say}


def _prediction(work: Work) -> Prediction | None:
    """What to ask before the next step; None where there is no next step."""
    made = trial(work)
    with made.lock:
        if not made.run.reaches(work.step + 1):
            return None
        settings = work.settings
        return Prediction(
            made.program,
            made.run,
            work.step,
            settings.depth,
            settings.base,
            work.wording,
            work.hidden,
        )


def _said() -> dict[str, str]:
    return {each.value: request.form.get(each.value, "") for each in Field}


def _ask(prediction: Prediction, wrong: Unreadable | None = None) -> str:
    return render_template(
        "explore/question.html",
        prediction=prediction,
        nth=ordinal(prediction.kind.place_in_phase + 1),
        said=_said(),
        wrong=wrong,
    )


def _question(work: Work) -> Response | None:
    prediction = _prediction(work)
    if prediction is None:
        return None
    asks = prediction.rung or prediction.kind.phase is Phase.EXECUTE
    if work.only_execute and not asks:
        return None
    # A question that is open already is asked again with what has been said so far.
    response = make_response(_ask(prediction))
    response.headers["HX-Retarget"] = "#question"
    return response
