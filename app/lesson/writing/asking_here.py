"""Questions written at a moment of the run, with their answers worked out before they are
written."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from app.lesson.asking.facts import Facts
from app.lesson.asking.questions import AskedQuestion, Question, ask_all, true_answer
from app.lesson.asking.subjects import REQUEST_WORDS, SERVING, read_subject
from app.lesson.blocks.question import FEWEST_CHOICES
from app.lesson.entries import Piece, Wrong, read_entries
from app.lesson.header import ONLY_IN_TRANSFERS, Depth
from app.lesson.in_sight import answer_in_sight
from app.lesson.model import Scene
from app.lesson.parts import all_parts, part_name
from app.lesson.places import read_when
from app.lesson.timeline import Span
from app.machine.source.problems import Problem

from .manuscript import Manuscript
from .outline import Placed, room_for
from .saying import carried_on, entry_lines

MOST_WORDS = 8
# What a question is called that nobody has worded yet.
_PROMPTS = {
    "output": "What will the output have shown after this?",
    "jump": "Which way will the jump go?",
    "PC": "Which address will the program counter hold after this?",
    "served": "When will the request be served?",
    "kept": "What will be kept of the program?",
    "kept address": "Which address will be kept?",
    "look": "Hit or miss?",
    "hits": "How many hits will there be after this?",
    "misses": "How many misses will there be after this?",
    "ticks": "How many ticks will it take?",
    "lost": "How many ticks will be lost?",
    "faster": "How many times as fast will it be?",
}
_OF_CACHE = ("hit or miss", "the hits", "the misses", "the ticks")
_BY_TURNS = ("the ticks", "the ticks lost", "how many times faster")


@dataclass(frozen=True, slots=True)
class Asking:
    """Something that can be asked at a step: ``subject`` as the file has it, the usual ``prompt``,
    and what the class would be ``asked``. ``changes`` where the answer is not so already;
    ``in_sight`` says what shows the answer to the class all the same, as the start of a sentence,
    empty where nothing does."""

    subject: str
    prompt: str
    asked: AskedQuestion
    changes: bool
    in_sight: str


def subjects(scene: Scene) -> list[str]:
    """What can be asked about in a scene, as the lesson file writes it."""
    if scene.by_turns:
        return [*_BY_TURNS]
    program = scene.program
    machine = program.machine
    data = [at for at, each in enumerate(program.origins) if each.is_data and each.labels]
    stored = [f"what is stored in {program.labels[at]}" for at in data[:MOST_WORDS]]
    registers = [f"the {part_name(each.tag, machine)}" for each in machine.registers]
    named = ["the accumulator", "the next address", "the output so far", "which way the jump goes"]
    skipped = ("the accumulator", "the program counter")
    more = [*(_OF_CACHE if scene.cache else ()), *(REQUEST_WORDS if scene.requests else ())]
    return [*named, *more, *stored, *(each for each in registers if each not in skipped)]


def askings(scene: Scene, place: str, answer_at: str = "", early: bool = False) -> list[Asking]:
    """What can be asked at a place, those first whose answer is something new that is not in sight
    yet. With ``early`` it is asked at the place and answered at another, ``answer_at``."""
    found = []
    machine = scene.program.machine
    for subject in subjects(scene):
        question = _question(scene, place, subject, answer_at, early)
        asked = _tried(scene, question) if question else None
        kind = read_subject(subject, machine)
        if (
            question is None
            or asked is None
            or kind.kind in all_parts(machine) - _seen(scene, asked)
        ):
            continue  # what the class does not see it is not asked about
        prompt = _PROMPTS.get(kind.kind) or _prompt(subject)
        if answer_at:
            end = " at the end?" if answer_at == "end" else "?"
            prompt = prompt.replace(" after this?", end)
        changes = _changes(scene, subject, asked)
        in_sight = answer_in_sight(scene, asked, question)
        found.append(Asking(subject, prompt, asked, changes, in_sight))
    return sorted(found, key=lambda each: not each.changes or bool(each.in_sight))


def _seen(scene: Scene, asked: AskedQuestion) -> frozenset[str]:
    """The parts that are on stage when the answer is."""
    shown = scene.cue_sheet.parts(asked.reveal_step)
    return shown - ONLY_IN_TRANSFERS if scene.depth is Depth.PHASES else shown


def _prompt(subject: str) -> str:
    if subject.startswith("what is stored in "):
        return f"What will be stored in {subject.rsplit(' ', 1)[1]} after this?"
    return f"What will {subject} hold after this?"


def _changes(scene: Scene, subject: str, asked: AskedQuestion) -> bool:
    kind = read_subject(subject, scene.program.machine)
    if kind.kind == "jump" or kind.watched or kind.kind in SERVING:
        return True
    if not asked.step:
        return True
    try:
        before = true_answer(kind, Facts(scene.run, scene.program, Span(asked.step, asked.step)))
    except Wrong:
        return True
    return before != asked.choices[asked.answer]


def _question(
    scene: Scene, place: str, subject: str, answer_at: str, early: bool
) -> Question | None:
    machine = scene.program.machine
    piece = Piece(place, 1, 1)
    try:
        return Question(
            read_when(place, unsaid="first", machine=machine),
            subject,
            read_subject(subject, machine),
            (),
            piece,
            piece,
            None,
            1,
            early,
            read_when(answer_at, unsaid="first", machine=machine) if answer_at else None,
        )
    except Wrong:
        return None  # a label that is no name for a word of memory


def _tried(scene: Scene, question: Question) -> AskedQuestion | None:
    machine = scene.program.machine
    asked, problems = ask_all(
        [question],
        scene.timeline,
        scene.program,
        scene.wording,
        lambda step: all_parts(machine) - scene.cue_sheet.parts(step),
        scene.base_of_questions,
        lambda: scene.watching,
        scene.by_turns,
    )
    return asked[0] if asked and not problems else None


def ask(
    manuscript: Manuscript,
    number: int,
    step: int,
    place: str,
    subject: str,
    prompt: str,
    choices: Sequence[tuple[str, str]] = (),
    because: str = "",
    answer_at: str = "",
    instead: int = 0,
) -> Manuscript:
    """A question at a step, before a place that starts just after it, or (with ``answer_at``) at a
    place that comes there. ``choices`` are own answers, each with the reason why it is wrong, empty
    for none; without them they are worked out. It takes the place of the question whose block
    starts after the line ``instead`` (from 1), where one is given.

    Raises Wrong where it would not be asked there as it was typed.
    """
    scene = manuscript.scene(number)
    prompt = " ".join(prompt.split())
    if not prompt:
        raise Wrong("The question has no words.", "Type what you ask the class.")
    key = f"ask at {place}" if answer_at else f"before {place}"
    lines = entry_lines("", key, prompt, "")
    lines += [f"answer at {answer_at}"] if answer_at else []
    lines += [f"ask: {subject}"]
    given = [(" ".join(a.split()), " ".join(b.split()).rstrip(".")) for a, b in choices]
    given = _boxes(given)
    if given:
        first, *others = (f"{text} because {why}" if why else text for text, why in given)
        lines += entry_lines("", "choices", first, "")
        # Each wrong one on a line of its own, which carries the entry on.
        lines += [carried_on(f"or {each}") for each in others]
    because = " ".join(because.split())
    lines += entry_lines("", "because", because, "") if because else []
    if instead:
        there = _block_of(manuscript, number, instead)
        after = manuscript.with_lines(there.open + 1, there.close, lines, there.open + 1)
    else:
        room = _room(manuscript, scene, number, step)
        after = manuscript.with_new_block(room, "question", lines)
    made = after.lesson.scenes[number]
    asked = next((each for each in made.questions if each.line == after.line), None)
    if asked is None or asked.step != step or asked.prompt != prompt:
        what = "The question would not be asked at this moment as it stands here."
        raise Wrong(what, "Choose another place or another subject.")
    written = next(each for each in made.asked if each.line == after.line)
    wrong = [each for each in made.question_problems if _about(each, after)]
    if wrong:
        raise Wrong(wrong[0].what, _MEND_BOXES if given else wrong[0].mend)
    if len(written.choices) != len(given) and given:
        what = "Your answers and their reasons would be read in another way."
        raise Wrong(what, "Leave 'or', commas and numbers out of the reasons.")
    return after


def question_on(scene: Scene, line: int) -> tuple[Question, AskedQuestion] | None:
    """The question of a scene whose block starts after a line (from 1), as it was written and as
    it is asked."""
    written = [each for each in scene.asked if each.line == line]
    asked = [each for each in scene.questions if each.line == line]
    return (written[0], asked[0]) if written and asked else None


def as_typed(manuscript: Manuscript, question: Question, right: str) -> dict[str, str]:
    """A question as the form for it is filled in: its fields by their names. ``right`` is its
    right answer, which nobody types."""
    block = manuscript.outline.block_of(question.line - 1)
    lines = [manuscript.text.lines[each] for each in block.inside] if block else []
    written = " ".join(" ".join(lines).split())

    def raw(reason: str) -> str:
        """A reason as it stands in the file: it is read as a sentence."""
        plain = reason.rstrip(".")
        at = written.lower().find(plain.lower())
        return written[at : at + len(plain)] if at >= 0 else reason

    fields = {"subject": question.asked.text, "prompt": question.prompt}
    if question.answered is not None:
        fields["late"] = _answer_at(manuscript, block)
    if question.early or question.answered is None:
        # (What is asked before a place and answered later is asked at a place from now on.)
        fields["place"] = question.place.text.removeprefix("ask at ").removeprefix("before ")
    if question.choices or question.because:
        fields |= {"own": "on", "because": raw(question.because)}
    wrong = [each for each in question.choices if each[0] != right]
    for number, (answer, why) in enumerate(wrong, 1):
        fields |= {f"answer-{number}": answer, f"reason-{number}": raw(why)}
    return fields


def _answer_at(manuscript: Manuscript, block: Placed | None) -> str:
    """Where the answer of a question comes, as its block has it."""
    lines = manuscript.text.lines
    inside = "\n".join(lines[each] for each in block.inside) if block else ""
    found = (_ANSWER_AT.fullmatch(each.text) for each in read_entries(inside, 1))
    return next((each[1] for each in found if each), "end")


_ANSWER_AT = re.compile(r"answer\s+at\s*:?\s*([^:]*\S)\s*:?", re.IGNORECASE)
_MEND_BOXES = "Change what stands in the boxes, or empty them all."


def _boxes(typed: Sequence[tuple[str, str]]) -> list[tuple[str, str]]:
    """The answers of a form, the right one first, without the boxes that are empty; none at all
    where there is no wrong one. Raises Wrong where they are no choices."""
    for number, (answer, why) in enumerate(typed):
        if why and not answer:
            what = f"Why answer {number} is wrong is told, and the answer itself is missing."
            raise Wrong(what, "Type it, or empty the box beside it.")
    filled = [each for each in typed if each[0]]
    if len(filled) < 2:
        return []
    if len(filled) < FEWEST_CHOICES:
        what = "There is only one wrong answer."
        raise Wrong(what, "Type another one, or empty the boxes: then they are worked out.")
    seen: set[str] = set()
    for answer, _ in filled:
        if answer.casefold() in seen:
            what = f"'{answer}' is there twice" + (
                ": it is the right answer." if answer == filled[0][0] else "."
            )
            raise Wrong(what, "Type another one.")
        seen.add(answer.casefold())
    return filled


def _about(problem: Problem, after: Manuscript) -> bool:
    block = after.outline.block_of(after.line - 1)
    return block is not None and problem.line - 1 in block.inside


def _room(manuscript: Manuscript, scene: Scene, number: int, step: int) -> int:
    """The line (from 0) before which a question goes: after those that are asked before it."""
    part = manuscript.outline.scenes[number]
    lines = {each.line: each.step for each in scene.questions}
    earlier = [
        each
        for each in part.blocks
        if each.kind == "question" and lines.get(each.open + 2, -1) <= step
    ]
    if earlier:
        return earlier[-1].close + 1
    later = [each for each in part.blocks if each.kind == "question"]
    return later[0].open if later else room_for(manuscript.text.lines, part, "question")


def without_question(manuscript: Manuscript, number: int, line: int) -> Manuscript:
    """The text without the question whose block starts after a line (from 1: its first own one)."""
    manuscript.scene(number)
    return manuscript.without_block(_block_of(manuscript, number, line))


def _block_of(manuscript: Manuscript, number: int, line: int) -> Placed:
    """The block of a question, by the line (from 1) that it starts after."""
    for block in manuscript.outline.scenes[number].blocks:
        if block.kind == "question" and block.open + 2 == line:
            return block
    raise Wrong("There is no such question any more.", "Choose it on the board again.")
