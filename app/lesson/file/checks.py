"""Warnings: what is allowed in a lesson but surely not meant, found by running its scenes.

Runs are followed for at most ``timeline.FOLLOWED`` steps a scene and ``FOLLOWED_IN_ALL`` a
lesson, so that a lesson that never stops cannot hold up the server. What watches a run (a cache, a
pipeline) is counted in the same steps, and made only where a check needs it. What is left out is
said.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from app.lesson.asking.facts import unknown_label
from app.lesson.at_once import FOLLOWED_IN_ALL
from app.lesson.blocks.cues import ROOM_FOR_WORDS
from app.lesson.blocks.task import TaskOutcome, check_task
from app.lesson.entries import Piece
from app.lesson.header import Press
from app.lesson.in_sight import answer_in_sight
from app.lesson.minutes import Minutes, scene_minutes
from app.lesson.model import Scene
from app.lesson.places import When
from app.lesson.pressing import MOST_COUNTED, SECONDS_A_PRESS, Pressing
from app.lesson.timeline import FOLLOWED
from app.machine.characters import split_comment
from app.machine.instructions import Phase
from app.machine.run import DEFAULT_LIMIT
from app.machine.source.disassembler import decode
from app.machine.source.problems import Problem
from app.machine.state import Ending
from app.machine.telling.astray import astray
from app.machine.telling.counts import counted


def check_scenes(scenes: Sequence[Scene], minutes: int | None = None) -> Iterator[Problem]:
    """The warnings of all scenes of a lesson without faults, none looked for before its turn.
    ``minutes`` are the lesson's."""
    yield from _titles(scenes)
    times = scene_minutes(minutes, scenes)
    followed = 0
    for at, scene in enumerate(scenes):
        if not scene.program.words:
            yield from _places(scene)
            continue
        if followed >= FOLLOWED_IN_ALL:
            what = f"This scene and those after it were not run: {followed:,} steps were enough."
            mend = "Set a smaller 'limit' in the header, or make two lessons of it."
            yield Problem(scene.line, 1, 1, what, mend, warning=True)
            break
        scene.run.reaches(FOLLOWED + 1)
        yield from _places(scene)
        yield from _inputs(scene)
        yield from _requests(scene)
        yield from _unseen_status(scene)
        yield from _long_words(scene)
        pressing = Pressing(scene, scene.depth)
        yield from _pace(scene, times[at], pressing)
        if scene.compare and (found := scene.compare.not_compared(scene.run)):
            what = f"The program of '{scene.title}' {found.why}."
            yield Problem(scene.line, 1, 1, what, found.mend, warning=True)
        if not (at and _runs_like(scene, scenes[at - 1])):
            yield from _ending(scene)
            # For that it was gone through once more.
            followed += scene.run.known_steps if scene.timeline.complete else 0
        followed += scene.taken + pressing.looked
        if scene.task and scene.solution and scene.solution.words:
            outcome = check_task(scene.solution, scene.task, DEFAULT_LIMIT)
            followed += outcome.steps
            if not outcome.passed:
                yield _unsolved(scene, outcome)


def _long_words(scene: Scene) -> Iterator[Problem]:
    for cue in scene.cues:
        if len(cue.words) > ROOM_FOR_WORDS:
            what = (
                f"These words have {len(cue.words)} letters, and the board has room for"
                f" {ROOM_FOR_WORDS} under its picture: they will cover a part of it."
            )
            mend = "Say it shorter, or in two cues."
            yield Problem(cue.line, cue.column, len(cue.text), what, mend, warning=True)


def _titles(scenes: Iterable[Scene]) -> Iterator[Problem]:
    seen: dict[str, int] = {}
    for scene in scenes:
        title = scene.title.casefold()
        if title in seen:
            what = f"Line {seen[title]} has a scene called '{scene.title}' already."
            yield Problem(scene.line, 1, 1, what, "Give this one another name.", warning=True)
        seen.setdefault(title, scene.line)


def _runs_like(scene: Scene, before: Scene) -> bool:
    """Whether a scene keeps program, inputs and requests of the one before, and so its ending."""
    same = scene.inputs == before.inputs and scene.requests == before.requests
    return scene.program is before.program and same


def _places(scene: Scene) -> Iterator[Problem]:
    """Cues that are never shown and questions that are never asked."""
    if scene.cues:
        for cue in scene.cue_sheet.unused:
            piece = Piece(cue.text, cue.line, cue.column)
            yield _never(scene, cue.when, piece, "this cue is never shown")
    for question in scene.asked:
        if not scene.timeline.spans(question.when):
            yield _never(scene, question.when, question.place, "this question is never asked")
    if scene.asked:
        yield from scene.question_problems
        yield from _in_sight(scene)


def _in_sight(scene: Scene) -> Iterator[Problem]:
    """Questions that come with their answer."""
    for asked in scene.questions:
        shown = answer_in_sight(scene, asked)
        if shown:
            question = next(each for each in scene.asked if each.line == asked.line)
            what = f"{shown}, so the answer is in sight when this is asked."
            mend = "Ask earlier, as in 'ask at start: ...', with a line 'answer at end'."
            yield question.place.problem(what, mend, warning=True)


def _pace(scene: Scene, minutes: Minutes | None, pressing: Pressing) -> Iterator[Problem]:
    """More presses than there is time for. Of a task the class sees no more than the start."""
    if minutes is None or scene.task:
        return
    count = pressing.count
    if count * SECONDS_A_PRESS > minutes.count * 60:
        presses = f"{count} presses or more" if count >= MOST_COUNTED else f"{count} presses"
        most = minutes.count * 60 // SECONDS_A_PRESS
        takes = f"The scene '{scene.title}' takes {presses}, and"
        if not most:
            what = f"{takes} the other scenes leave none of the lesson's minutes for it."
            mend = (
                "Give it time with a line 'minutes: 5' under its heading, or the lesson more in"
                " its header."
            )
            yield Problem(scene.line, 1, 1, what, mend, warning=True)
            return
        what = (
            f"{takes} has {minutes.words}: at {SECONDS_A_PRESS} seconds a press there is time for"
            f" {most}."
        )
        coarser = Press.CUE
        for each in (Press.PHASE, Press.INSTRUCTION):
            other = Pressing(scene, scene.depth, each)
            fits = other.count <= most
            pressing.looked += other.looked
            if fits:
                coarser = each
                break
        mend = (
            f"Write a line 'press: {coarser}' under its heading, or give it more time with a line"
            " 'minutes: ...'."
        )
        yield Problem(scene.line, 1, 1, what, mend, warning=True)


def _never(scene: Scene, when: When, place: Piece, so: str) -> Problem:
    """Why the run of a scene does not come to a place."""
    if not scene.program.words:
        what = f"The scene '{scene.title}' has no program, so {so}."
        mend = "Add a 'program' block, here or in a scene before."
    elif _has_no_label(scene, when):
        wrong = unknown_label(when.label, scene.program)
        what, mend = f"{wrong.what[:-1]}, so {so}.", wrong.mend
    elif not scene.timeline.complete:
        what = (
            f"'{place.text}' does not come in the first {FOLLOWED:,} steps of"
            f" '{scene.title}', and later places are not looked for, so {so}."
        )
        mend = "Choose a place that comes earlier, or set a smaller 'limit' in the header."
    else:
        what = f"The run of '{scene.title}' never comes to '{place.text}', so {so}."
        has = counted(scene.timeline.last_step, scene.unit)
        mend = f"The run has {has}; change the place or the program."
    return place.problem(what, mend, warning=True)


def _has_no_label(scene: Scene, when: When) -> bool:
    """Whether a place names a label that the program does not have."""
    if when.kind == "change":
        return scene.timeline.changing(when.label) is None
    return bool(when.label) and scene.program.address_of(when.label) is None


def _ending(scene: Scene) -> Iterator[Problem]:
    """A run that does not end with HALT.

    The program of a task is for the pupils to mend, unless the teacher speaks about its run.
    """
    if scene.task and not (scene.cues or scene.asked):
        return
    complete = scene.timeline.complete
    ending = scene.run.ending
    if complete and (strays := _strays(scene)):
        yield strays
        return
    if complete and ending is Ending.HALTED:
        return
    place = (scene.line, 1, 1)
    if complete and ending is not Ending.LIMIT:
        place = _last_place(scene)
    match ending if complete else None:
        case Ending.OFF_MEMORY:
            what = f"The program of '{scene.title}' runs past the end of memory."
            mend = "Write HALT where it should stop."
        case Ending.UNKNOWN_CODE:
            what = f"The program of '{scene.title}' runs into a word that is no instruction."
            mend = "Write HALT before the data, or look at its jumps."
        case Ending.WAITING:
            count = len(scene.inputs)
            what = (
                f"The program of '{scene.title}' asks for an input and waits: it has read"
                f" {'all ' if count > 1 else ''}{count or 'none, for there are none'}."
            )
            mend = "Add values to an 'inputs' block, or a HALT before this."
        case Ending.NO_ADDRESS:
            what = f"The program of '{scene.title}' comes to an address that memory does not have."
            mend = "Look at the index, or at the word that is read as an address."
        case Ending.STACK_EMPTY:
            what = f"The program of '{scene.title}' takes something off an empty stack."
            mend = "Write HALT before the subroutine, or look for a RETURN or a POP too many."
        case Ending.STACK_FULL:
            what = f"The stack of '{scene.title}' grows into the words of the program."
            mend = "Look for a PUSH without a POP, or a subroutine that calls itself without end."
        case _:
            after = (
                f"{scene.limit:,} instructions"
                if complete
                else f"{FOLLOWED:,} steps, and the check follows it no further"
            )
            what = f"The program of '{scene.title}' has not stopped after {after}."
            mend = "If it should stop, look at its jumps; else set a smaller 'limit' in the header."
    yield Problem(*place, what, mend, warning=True)


def _unsolved(scene: Scene, outcome: TaskOutcome) -> Problem:
    """A solution, tried as the programs of pupils are, that does not do its task."""
    assert outcome.first_failing_case
    what = f"The solution of '{scene.title}' does not do the task. {outcome.words}"
    mend = f"Mend the solution, or the case on line {outcome.first_failing_case.line}."
    return Problem(scene.solution_line - 1, 1, 3, what, mend, warning=True)


def _inputs(scene: Scene) -> Iterator[Problem]:
    """Inputs of which the run reads none. (Pupils may change the program of a task to do it.)"""
    if not scene.inputs_line or scene.task or not scene.timeline.complete:
        return
    if scene.inputs and not scene.run.moment(scene.run.last_step).after.taken:
        what = f"The program of '{scene.title}' reads none of these inputs."
        mend = "Write INPUT where it should read one, or leave the block out."
        yield Problem(scene.inputs_line - 1, 1, 3, what, mend, warning=True)


def _requests(scene: Scene) -> Iterator[Problem]:
    """Requests that come too late, or that are never served."""
    if not scene.requests_line or not scene.requests or not scene.timeline.complete:
        return
    end = scene.run.finish()
    place = (scene.requests_line - 1, 1, 3)
    late = sum(each.instruction > end.cycles for each in scene.requests)
    if late:
        what = (
            f"The run of '{scene.title}' ends after {counted(end.cycles, 'instruction')}, before"
            f" {'the last of these requests come' if late > 1 else 'a request of these comes'}."
        )
        mend = "Let them come earlier, or let the program run longer."
        yield Problem(*place, what, mend, warning=True)
    elif not end.served:
        what = f"No request is served in '{scene.title}': interrupts are off where they come."
        mend = "Write ENABLE, with the label of a routine, before them."
        yield Problem(*place, what, mend, warning=True)


def _unseen_status(scene: Scene) -> Iterator[Problem]:
    """A jump or a question that needs the status, where the class never sees it. Where there is no
    accumulator either, the scene is not about what the program works out."""
    shown = scene.parts | scene.cue_sheet.parts(scene.timeline.last_step)
    if "status" in shown or "ACC" not in shown:
        return
    mend = "Write '[show status]' in a cue, or leave the status in the line 'show'."
    for question in scene.asked:
        if question.subject.kind == "status":
            what = "This question is about the status, and the status is not on the board."
            yield question.asked.problem(what, mend, warning=True)
    program = scene.program
    for address, origin in enumerate(program.origins):
        instruction = decode(program.machine, program.words[address])[0]
        if (
            scene.program_line
            and not origin.is_data
            and instruction
            and instruction.looks_at_status
        ):
            what = f"{instruction.name} IF looks at the status, and the status is not on the board."
            yield Problem(*_place_of(scene, address), what, mend, warning=True)
            return


def _strays(scene: Scene) -> Problem | None:
    """A run that seems to be all right, and is so by chance."""
    if scene.run.ending not in (Ending.HALTED, Ending.WAITING):
        return None
    found = astray(scene.program, _addresses(scene))
    if found is None:
        return None
    if found.behind:
        what = (
            f"The program of '{scene.title}' has no HALT after its last instruction, so it runs on"
            " into what comes there."
        )
        origins = scene.program.origins
        last = max(at for at, each in enumerate(origins) if not each.is_data)
        return Problem(*_place_of(scene, last), what, "Write HALT after it.", warning=True)
    if found.at != _last_address(scene):
        return None  # a lesson may show that numbers can be carried out
    what = (
        f"The program of '{scene.title}' comes to this number before it comes to HALT, and ends"
        " there."
        if found.line
        else f"The program of '{scene.title}' jumps past its last line, where memory is empty."
    )
    return Problem(*_place_of(scene, found.at), what, found.mend, warning=True)


def _addresses(scene: Scene) -> Iterator[int]:
    """Where each instruction of the run stands, in the order in which they are carried out."""
    for _number, _cycle, kind, value in scene.run.steps():
        if kind.phase is Phase.FETCH and kind.transfer.target == "MAR" and isinstance(value, int):
            yield value


def _last_address(scene: Scene) -> int:
    """Where the instruction stands that was carried out last."""
    last = scene.run.last_step
    before = scene.run.before_instruction(last) if last else 0
    return scene.run.moment(before).after.pc


def _last_place(scene: Scene) -> tuple[int, int, int]:
    """Line, column and length, in the file, of the word that was carried out last."""
    return _place_of(scene, _last_address(scene))


def _place_of(scene: Scene, address: int) -> tuple[int, int, int]:
    origins = scene.program.origins
    if not scene.program_line or address >= len(origins):
        return scene.line, 1, 1
    line = origins[address].line
    text = scene.program.source.split("\n")[line - 1]
    code = split_comment(text)[0]
    column = len(code) - len(code.lstrip()) + 1
    return scene.program_line + line - 1, column, max(len(code.strip()), 1)
