"""A frame: everything on the board at one moment, as text ready to be shown.

Made from a :class:`~app.classroom.view.View` alone. Values come from the states before and
after the step, movement from the step's transfer, so the board shows what the model did.
"""

from __future__ import annotations

from dataclasses import dataclass

from app.classroom.pace import beat_seconds, moving_steps, seconds_per_step, step_beats
from app.classroom.view import View, Went
from app.lesson.header import Depth
from app.machine.engine import Step
from app.machine.instructions import Phase
from app.machine.machine import Machine
from app.machine.provenance import mdr_is_instruction
from app.machine.registers import Register
from app.machine.run import Moment
from app.machine.source.disassembler import write_instruction
from app.machine.state import State
from app.machine.telling.narration import Working, phase_sentence, sentence, working
from app.machine.telling.reading import Reading
from app.machine.transfers import Place

from .drawing import slots_in_sight
from .movement import Moving, movement
from .question_card import QuestionCard, question_card
from .zoom import Zoom, make_zoom

OUTPUTS_IN_SIGHT = 3
LONGEST_WORKING = 22  # characters


@dataclass(frozen=True, slots=True)
class Value:
    """A text before and after the step; ``changed`` is whether the step put it there."""

    was: str
    now: str
    changed: bool = False


@dataclass(frozen=True, slots=True)
class RegisterBox:
    """A register: the ``place`` where it stands, and the ``tag`` and ``name`` that it has there."""

    place: str
    tag: str
    name: str
    value: Value


@dataclass(frozen=True, slots=True)
class Row:
    """One word of memory in sight, ``at`` its address: ``kind`` is instruction, data or empty.
    ``next`` tells that the program counter points at it (``was_next`` before the step), ``lit``
    that the step reads or writes it."""

    slot: int
    at: int
    address: str
    word: Value
    text: str
    number: Value
    kind: str
    next: bool
    was_next: bool
    lit: bool


@dataclass(frozen=True, slots=True)
class Frame:
    """What templates/board/frame.html draws.

    ``cue`` holds the teacher's words where the lesson has some for this moment, ``sentence``
    the plain ones. ``overview`` has the class names of a cell for each word of a large memory.
    """

    view: View
    phase: str
    cue: str
    sentence: str
    notation: str
    position: str
    registers: tuple[RegisterBox, ...]
    opcode: str
    operand: str
    meaning: str
    working: tuple[str, ...]
    overflow: bool
    rows: tuple[Row, ...]
    overview: tuple[str, ...]
    inputs: tuple[str, ...]
    outputs: tuple[Value, ...]
    moving: tuple[Moving, ...]
    beat_milliseconds: int
    hidden: frozenset[str]
    lit: frozenset[str]
    zoom: Zoom | None
    speed: tuple[str, ...]
    question: QuestionCard | None
    what_if: str

    @property
    def machine(self) -> Machine:
        return self.view.lesson.header.machine

    def say(self, text: str) -> str:
        """A text of our own in the words of the lesson."""
        return self.view.lesson.header.wording.say(text)


def make_frame(view: View) -> Frame:
    """The frame of a view."""
    moment = view.moment
    if moment is None:
        state = State.start(view.lesson.header.machine, view.scene.program.words)
        moment = Moment(None, state, state)
    return _Maker(view, moment).frame()


def _lines(working: Working | None) -> tuple[str, ...]:
    """What the ALU works out, on one line where it fits; long binary words one under another."""
    if working is None:
        return ()
    if len(working.line) <= LONGEST_WORKING:
        return (working.line,)
    return working.left, f"{working.sign} {working.right}"


class _Maker:
    def __init__(self, view: View, moment: Moment) -> None:
        self.view = view
        self.moment = moment
        self.machine = view.lesson.header.machine
        self.reading = Reading(self.machine, view.settings.base, view.lesson.header.wording)
        self.phases = view.settings.depth is Depth.PHASES
        self.hidden = view.hidden
        # The moments that one press of the key goes through: one step, or those of a phase.
        run = view.run
        steps = moving_steps(moment, Depth.PHASES if view.whole_phase else view.settings.depth)
        self.moments = [
            moment if each is moment.step else run.moment(each.number) for each in steps
        ]
        self.step = moment.step
        self.after = moment.after
        self.before = self.moments[0].before if self.moments else moment.before
        legs = [leg for each in steps for beat in step_beats(each) for leg in beat]
        self.targets = {leg.target for leg in legs}
        self.places = self.targets | {leg.source for leg in legs}
        self.touched = self._touched()
        self.window = self._window()

    def frame(self) -> Frame:
        view, step = self.view, self.step
        moves = view.went is Went.ON and view.settings.movement
        moving = movement(self.reading, self.moments, self.window, self.hidden) if moves else ()
        beats = 1 + max((each.beat for each in moving), default=0)
        decoded = step is not None and step.kind.phase is not Phase.FETCH
        opcode, operand = self.reading.halves(self.after.cir) if decoded else ("", "")
        return Frame(
            view=view,
            phase=step.kind.phase.value if step else "",
            cue=view.cue.words if view.cue else "",
            sentence=self._sentence(),
            notation=self._notation(),
            position=self._position(),
            registers=tuple(
                self._register(each)
                for each in self.machine.registers
                if each.tag not in self.hidden
            ),
            opcode=opcode,
            operand=operand,
            meaning=self.reading.meaning(self.after.cir) if decoded else "",
            working=_lines(working(self.reading, self.moment)),
            overflow=self.after.overflow,
            rows=tuple(self._row(slot) for slot in range(slots_in_sight(self.machine))),
            overview=self._overview(),
            inputs=tuple(self.reading.number(each) for each in view.run.inputs[self.after.taken :]),
            outputs=self._outputs(),
            moving=moving,
            beat_milliseconds=round(1000 * beat_seconds(beats, view.settings.speed)),
            hidden=self.hidden,
            lit=frozenset(map(str, self.places)) - self.hidden,
            zoom=self._zoom(),
            speed=self._speed(),
            question=question_card(view),
            what_if=view.what_if.words if view.what_if else "",
        )

    def _register(self, register: Register) -> RegisterBox:
        first = self.moments[0].step if self.moments else None
        tag = register.tag

        def fetched(state: State, step: Step | None, before: bool) -> bool:
            return mdr_is_instruction(self.machine, state, step.kind if step else None, before)

        was = self.reading.term(tag, self.before, fetched(self.before, first, True))
        now = self.reading.term(tag, self.after, fetched(self.after, self.step, False))
        say = self.reading.wording.say
        return RegisterBox(tag, say(tag), say(register.short), Value(was, now, tag in self.targets))

    # Scenes that show something else than the machine.

    def _zoom(self) -> Zoom | None:
        scale = self.view.scene.scale
        return make_zoom(scale, self.view.step) if scale else None

    def _speed(self) -> tuple[str, ...]:
        """The speed of a clock beside the board's, at the start and at the end of the run."""
        speed, run = self.view.scene.speed, self.view.scene.run
        if speed is None or self.view.what_if or not (self.step is None or self.after.ending):
            return ()
        pace = seconds_per_step(run, self.view.settings.depth, self.view.settings.speed)
        presses = run.phases if self.phases else None
        return speed.sentences(run.last_step, run.finish().cycles, pace, presses)

    # Words.

    def _sentence(self) -> str:
        scene = self.view.scene
        if scene.scale is not None:
            zoom = make_zoom(scene.scale, self.view.step)
            return zoom.comparison or f"{scene.title}."
        if not scene.program.words:
            return scene.title
        limit = self.view.scene.limit
        what_if = self.view.what_if
        if what_if and what_if.step == self.view.step:
            return "The machine goes on from here as it would then."
        if self.phases or self.view.whole_phase:
            return phase_sentence(self.reading, self.moment, self.before, limit, self.hidden)
        return sentence(self.reading, self.moment, limit, self.hidden)

    def _notation(self) -> str:
        if self.step is None or self.phases or self.view.whole_phase:
            return ""
        notation = self.reading.wording.say(self.step.kind.transfer.notation)
        return notation.replace("<-", "\N{LEFTWARDS ARROW}").replace(" - ", " \N{MINUS SIGN} ")

    def _position(self) -> str:
        if self.view.scene.scale is not None:
            last = self.view.scene.scale.last_step
            return f"{self.view.step + 1} of {last + 1}"
        if self.step is None:
            return "At the start"
        where = f"Instruction {self.step.cycle}"
        if self.phases:
            return where
        _, number = self.view.run.place(self.step.number)
        return f"{where} \N{MIDDLE DOT} step {number}"

    # Memory.

    def _touched(self) -> int | None:
        """The address of the word that this moment reads or writes."""
        if Place.MEMORY not in self.places:
            return None
        return next(
            each.after.mar
            for each in self.moments
            if each.step
            and any(
                Place.MEMORY in (leg.source, leg.target)
                for beat in step_beats(each.step)
                for leg in beat
            )
        )

    def _window(self) -> int:
        """The first address in sight: all of a small memory, else a window round the address."""
        slots = slots_in_sight(self.machine)
        last = self.machine.memory_words - slots
        at = self.touched if self.touched is not None else self.after.pc
        return min(max(at - slots // 2 + 1, 0), last)

    def _row(self, slot: int) -> Row:
        address = self.window + slot
        was, now = self.before.memory[address], self.after.memory[address]
        program = self.view.scene.program
        origin = program.origins[address] if address < len(program.origins) else None
        lit = address == self.touched
        changed = lit and Place.MEMORY in self.targets
        if origin and not origin.is_data:
            kind, text = "instruction", write_instruction(self.machine, now, program.labels)
        else:
            kind, text = "data" if origin or now else "empty", program.labels.get(address, "")
        return Row(
            slot=slot,
            at=address,
            address=self.reading.address(address),
            word=Value(self.reading.instruction(was), self.reading.instruction(now), changed),
            text=text,
            number=Value(self.reading.number(was), self.reading.number(now), changed),
            kind=kind,
            next=address == self.after.pc,
            was_next=address == self.before.pc,
            lit=lit,
        )

    def _overview(self) -> tuple[str, ...]:
        slots = slots_in_sight(self.machine)
        if slots == self.machine.memory_words:
            return ()
        cells = []
        for address, word in enumerate(self.after.memory):
            kinds = {
                "used": word != 0,
                "seen": self.window <= address < self.window + slots,
                "next": address == self.after.pc,
                "lit": address == self.touched,
            }
            cells.append(" ".join(kind for kind, holds in kinds.items() if holds))
        return tuple(cells)

    def _outputs(self) -> tuple[Value, ...]:
        """The last outputs, the newest first."""
        sent = self.view.run.outputs(self.after.sent)
        first = max(len(sent) - OUTPUTS_IN_SIGHT, 0)
        return tuple(
            Value("", self.reading.number(each), at >= self.before.sent)
            for at, each in reversed([*enumerate(sent)][first:])
        )
