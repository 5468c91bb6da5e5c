"""A frame: everything on the board at one moment, as text ready to be shown.

Made from a :class:`~app.classroom.view.View` alone. Values come from the states before and
after the step, movement from the step's transfer, so the board shows what the model did.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import ceil

from app.classroom.inside import SIGNALS
from app.classroom.pace import (
    COLUMN_SECONDS,
    beat_seconds,
    moving_steps,
    seconds_per_step,
    step_beats,
)
from app.classroom.view import View, Went
from app.lesson.blocks import cache as cache_block
from app.lesson.blocks import pipeline as pipeline_block
from app.lesson.blocks.cues import ROOM_FOR_WORDS
from app.lesson.blocks.speed import Speed
from app.lesson.blocks.watch import seen_whole
from app.lesson.header import Counted, Depth
from app.lesson.parts import titles_of
from app.machine.addressing import Operand
from app.machine.characters import CHARACTERS, as_text
from app.machine.engine import Step
from app.machine.growing import key_of
from app.machine.instructions import Phase
from app.machine.machine import Machine
from app.machine.operations import status_shown
from app.machine.provenance import cir_is_instruction, mdr_is_instruction, word_decoded
from app.machine.registers import Holds, Register
from app.machine.requests import brought_back
from app.machine.run import Moment
from app.machine.source.disassembler import can_be_written, decode
from app.machine.state import Ending, State
from app.machine.telling.costs import cost, so_far
from app.machine.telling.narration import Working, arrival, phase_sentence, sentence, working
from app.machine.telling.reading import Reading
from app.machine.telling.watched import look_sentence, tick_sentence
from app.machine.transfers import ADDER, Carrier, Place
from app.machine.watching.cache import CacheAccount, Look
from app.machine.words import show_word

from .bars import Bar, Curve, Race, gain_bars, gain_curve, race
from .bits import Bits, bits_of
from .cache_picture import CachePicture, cache_picture
from .drawing import MOST_LETTERS, PORTS, Form, corners, counters, is_grown
from .memory import Panes, panes, uses_stack, watch_list
from .movement import Moving, movement, walk
from .opened import OpenedAlu, opened_alu
from .opened_control import OpenedControl, opened_control
from .overview import LIT, NEXT, SEEN, USED
from .pipeline_picture import PipelinePicture, pipeline_picture
from .question_card import QuestionCard, question_card
from .queues import MOST_IN_SIGHT, Queue, Value, queue
from .speed_picture import SpeedPicture, speed_picture
from .zoom import Zoom, comparison, make_zoom

LONGEST_WORKING = 22  # characters
LONGEST_WAITING = 21  # letters of what is said of requests that wait
LONGEST_SUM = 16  # of the adder of addresses
# A value longer than this and the tag of its register do not fit on one line.
LONGEST_BESIDE_TAG = 12
# A sentence longer than this may need the room of the phases beside it.
LONG_SENTENCE = 110
# One longer than this, of a machine that has grown, may need the room of the notation as well.
LONGER_SENTENCE = 160
# The letters that a line of text in memory has room for.
_ROOM = 17
# Longer lines of a machine that has grown have a number without zeros before it.
LONGEST_LINE = 28
# What is said of a word at the foot of memory.
TOP, PILED, FREE = "top of stack", "on the stack", "free"
# So many characters of a line of text are looked at, and so many are shown beside the processor
# and below it.
MOST_AS_TEXT, COLUMN_TEXT, ROW_TEXT = 60, 24, 10
NONE_YET = "\N{EN DASH}"


@dataclass(frozen=True, slots=True)
class RegisterBox:
    """A register: the ``place`` where it stands, and the ``tag`` and ``name`` that it has there.

    ``long`` is whether its values may be too long for one line with its tag, at any step: the tag
    then stands before the name at all steps.
    """

    place: str
    tag: str
    name: str
    value: Value
    long: bool


@dataclass(frozen=True, slots=True)
class Row:
    """One word of memory in sight, ``at`` its address: ``kind`` is instruction, data or empty,
    ``label`` the label of an instruction (that of data is its ``text``). ``next`` tells that the
    program counter points at it (``was_next`` before the step), ``lit`` that the step reads or
    writes it, ``watched`` that it is in the watch list. At the foot of memory ``pile`` says what a
    word is to the stack (``TOP``, ``PILED`` or ``FREE``); ``top`` tells that the stack pointer
    points at it (``was_top`` before the step)."""

    slot: int
    at: int
    address: str
    word: Value
    label: str
    text: str
    number: Value
    kind: str
    next: bool
    was_next: bool
    lit: bool
    watched: bool
    pile: Value | None
    top: bool
    was_top: bool
    # What an interrupt keeps in it, while that is written or read.
    kept: str = ""

    @property
    def letters(self) -> int:
        """How many letters its line of text would have if the number beside it were text too."""
        letters = len(self.text) + (len(self.label) + 2 if self.label else 0)
        pile = (self.pile.now, self.pile.was, self.kept) if self.pile else ("",)
        letters += max(map(len, pile))
        letters += len("SP ") if self.top or self.was_top else 0
        if self.kind != "data" or self.number.now == self.word.now:
            return min(letters, MOST_LETTERS)
        digits = max(len(self.number.now), len(self.number.was)) + 1
        # The number keeps its size, so the text alone has to fit into what that leaves.
        return min(ceil(letters * _ROOM / max(_ROOM - digits, 1)), MOST_LETTERS)


@dataclass(frozen=True, slots=True)
class Frame:
    """What templates/board/frame.html draws.

    ``cue`` holds the teacher's words where the lesson has some for this moment, ``sentence``
    the plain ones. ``overview`` has the class names of a cell for each word of a large memory.
    ``goal`` is that of the scene's task, while nothing runs; ``changed`` are the places that the
    step wrote to, of those that are ``lit``. ``bits`` are those that the ALU works on one by one,
    ``adding`` is what the adder of addresses makes, and ``counting`` how each register that counts
    does so, beside the program counter. ``output_text`` is all that was sent as a line of text,
    where words are read as characters, as long as a column and as a row have room for.
    ``counted`` says what the run has cost so far, where the lesson asks for it. ``waiting`` tells
    of requests that wait to be served. ``opened`` is the part that is looked into, in the machine's
    place.
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
    bits: Bits | None
    adding: str
    counting: tuple[tuple[str, str], ...]
    overflow: bool
    rows: tuple[Row, ...]
    overview: tuple[str, ...]
    inputs: Queue
    outputs: Queue
    output_text: tuple[Value, Value] | None
    moving: tuple[Moving, ...]
    beat_milliseconds: int
    hidden: frozenset[str]
    lit: frozenset[str]
    changed: frozenset[str]
    goal: str
    zoom: Zoom | None
    speed: tuple[str, ...]
    speed_picture: SpeedPicture | None
    question: QuestionCard | None
    what_if: str
    counted: str
    waiting: str
    interrupts_off: bool
    opened: OpenedAlu | OpenedControl | None
    cache: CachePicture | None
    pipeline: PipelinePicture | None
    race: Race | None
    gains: tuple[Bar, ...]
    curve: Curve | None

    @property
    def machine(self) -> Machine:
        return self.view.lesson.header.machine

    @property
    def phases(self) -> tuple[str, ...]:
        """The phases of an instruction, in their order."""
        return tuple(each.value for each in self.machine.phases)

    @property
    def machine_key(self) -> str:
        """How addresses name its machine."""
        return key_of(self.machine)

    @property
    def moves(self) -> bool:
        """Whether anything in it moves."""
        return bool(self.moving or self.zoom or (self.cache and self.cache.ways))

    @property
    def watched(self) -> bool:
        """Whether the lesson has a cache or a pipeline on the board, in any of its scenes."""
        return self.view.lesson.watched

    @property
    def has_parts(self) -> bool:
        """Whether its picture is that of the machine, with parts to show and to hide: a cache, a
        pipeline and machines side by side have pictures of their own."""
        return not (self.cache or self.pipeline or self.race)

    @property
    def page_key(self) -> str:
        """What a page must have been made for to show it: the machine, and its style sheets."""
        return f"{self.machine_key}{'+watched' if self.watched else ''}"

    @property
    def titles(self) -> dict[str, str]:
        """What stands over each part of its machine."""
        return titles_of(self.machine)

    @property
    def adder(self) -> bool:
        """Whether there is an adder of addresses in sight."""
        return self.machine.has_adder and ADDER not in self.hidden

    def worked_from(self, place: str) -> int:
        """The beat from which the ALU, the adder or the control unit shows what it works out: all
        that it is given has come in by then. Bits that move inside are seen at work."""
        into = (each.beat for each in self.moving if each.routes and each.target == place)
        return 1 + max(into, default=0)

    @property
    def decoding(self) -> bool:
        """Whether the control unit is given the instruction that it decodes."""
        return any(each.routes and each.target == Place.CONTROL_UNIT for each in self.moving)

    @property
    def classes(self) -> str:
        """How it is shown, as classes of the page."""
        settings = self.view.settings
        words = ["frame", f"depth-{settings.depth}", f"base-{settings.base}"]
        named = {
            "blank": settings.blank,
            "playing": settings.playing,
            "no-machine": self.zoom or self.speed or self.pipeline or self.race,
            "looked-into": self.opened,
            "cached": self.cache,
            "piped": self.pipeline,
            "ports": self.ports,
        }
        words += [word for word, holds in named.items() if holds]
        words += [f"no-{part.replace(' ', '-')}" for part in sorted(self.hidden)]
        return " ".join(words)

    @property
    def ports(self) -> bool:
        """Whether the drawing is the one without the registers of the buses."""
        return self.hidden >= {register for register, _ in PORTS}

    def ways(self, moving: Moving) -> list[tuple[str, str]]:
        """The corners that a value passes in each form of the drawing, as text."""
        found = [(form, corners(form, self.machine, self.ports)) for form in Form]
        return [(form, " ".join(each[name] for name in moving.routes)) for form, each in found]

    @property
    def long(self) -> bool:
        """Whether the caption has more to say than beside the phases there may be room for."""
        return len(self.cue or self.sentence) > LONG_SENTENCE

    @property
    def longer(self) -> bool:
        """Whether it may need the room of the notation, too."""
        return is_grown(self.machine) and len(self.cue or self.sentence) > LONGER_SENTENCE

    @property
    def overlong(self) -> bool:
        """Whether the teacher's words need more room than there is: they are written smaller."""
        return len(self.cue or "") > ROOM_FOR_WORDS

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


def look_into(view: View, moments: Sequence[Moment] = ()) -> OpenedAlu | OpenedControl | None:
    """The part that a view has opened; None where none is. ``moments`` are those that its press
    goes through, for whoever has them already."""
    inside, header = view.inside, view.lesson.header
    if inside is None:
        return None
    reading = Reading(header.machine, view.settings.base, header.wording)
    if inside.part == SIGNALS:
        _, number = view.run.place(view.step)
        return opened_control(reading, moments or shown_moments(view), number)
    moment = view.alu_moment
    assert moment
    return opened_alu(reading, moment, inside.column, header.gates)


def shown_moments(view: View) -> list[Moment]:
    """The moments that one press of the key goes through: one step, or those of a phase."""
    moment = view.moment
    if moment is None:
        return []
    steps = moving_steps(moment, view.depth_shown)
    if view.what_if:
        return [view.done(each.number) for each in steps]
    return [moment if each is moment.step else view.run.moment(each.number) for each in steps]


def _end(text: str, room: int) -> str:
    """The end of a line that is longer than there is room for."""
    return text if len(text) <= room else f"\N{HORIZONTAL ELLIPSIS}{text[1 - room :]}"


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
        self.moments = shown_moments(view)
        self.step = moment.step
        self.after = moment.after
        # The step as it was carried out: the machine may have been changed just after it.
        self.done = self.moments[-1] if self.moments else moment
        self.before = self.moments[0].before if self.moments else moment.before
        steps = [each.step for each in self.moments if each.step]
        legs = [leg for each in steps for beat in step_beats(each) for leg in beat]
        self.targets = {leg.target for leg in legs}
        # An address or a control signal comes to a place and leaves it as it was.
        self.written = {leg.target for leg in legs if leg.carrier in (Carrier.INSIDE, Carrier.DATA)}
        self.places = self.targets | {leg.source for leg in legs}
        self.touched = self._touched()
        self.panes = self._panes()

    def frame(self) -> Frame:
        view, step = self.view, self.step
        cache = self._cache()
        moves = view.went is Went.ON and view.settings.movement
        opened = look_into(view, self.moments)
        moving: tuple[Moving, ...] = ()
        if moves and opened:
            moving = walk(opened.walks)
        elif moves and not view.scene.pipeline and cache is None:
            moving = self._movement()
        beats = 1 + max((each.beat for each in moving or (cache.ways if cache else ())), default=0)
        seconds = beat_seconds(beats, view.settings.speed)
        if opened:
            seconds = COLUMN_SECONDS / view.settings.speed
        bits = bits_of(self.machine, self.done)
        decoded = step is not None and step.kind.phase is not Phase.FETCH
        word = word_decoded(self.machine, self.after, step.kind) if step else 0
        opcode, operand = self.reading.halves(word) if decoded else ("", "")
        return Frame(
            view=view,
            phase=step.kind.phase.value if step else "",
            cue=view.cue.words if view.cue and not opened else "",
            sentence=opened.sentence if opened else self._sentence(),
            notation=self._notation(),
            position=self._position(),
            registers=tuple(
                self._register(each)
                for each in self.machine.registers
                if each.tag not in self.hidden
            ),
            opcode=opcode,
            operand=operand,
            meaning=self.reading.meaning(word) if decoded else "",
            working=() if bits else _lines(working(self.reading, self.done)),
            bits=bits,
            adding=self._adding(),
            counting=tuple(
                (tag, self._counting(tag))
                for tag in counters(self.machine)
                if tag != "PC" and tag not in self.hidden
            ),
            overflow=self.after.overflow,
            rows=tuple(self._row(slot) for slot in range(len(self.panes.addresses))),
            overview=self._overview(),
            inputs=self._inputs(),
            outputs=self._outputs(),
            output_text=self._output_text(),
            moving=moving,
            beat_milliseconds=round(1000 * seconds),
            hidden=self.hidden,
            lit=frozenset(map(str, self.places)) - self.hidden,
            changed=frozenset(map(str, self.written)) - self.hidden,
            goal=self._goal(),
            zoom=self._zoom(),
            speed=self._speed(),
            speed_picture=self._speed_picture(),
            question=question_card(view),
            what_if=view.what_if.words_in(view.settings.base, self.reading.wording)
            if view.what_if
            else "",
            counted=self._counted(),
            waiting=self._waiting(),
            interrupts_off=not self.after.others.get("interrupts", 0),
            opened=opened,
            cache=replace(cache, ways=cache.ways if moves else ()) if cache else None,
            pipeline=self._pipeline(),
            race=self._race(),
            gains=gain_bars(speed) if (speed := self._speed_shown) else (),
            curve=gain_curve(speed) if speed else None,
        )

    def _movement(self) -> tuple[Moving, ...]:
        return movement(self.reading, self.moments, self.panes, self.hidden)

    def _register(self, register: Register) -> RegisterBox:
        first = self.moments[0].step if self.moments else None
        tag = register.tag

        def fetched(state: State, step: Step | None, before: bool) -> bool:
            return mdr_is_instruction(self.machine, state, step.kind if step else None, before)

        was = self._held(tag, self.before, fetched(self.before, first, True))
        now = self._held(tag, self.after, fetched(self.after, self.step, False))
        say = self.reading.wording.say
        value = Value(was, now, tag in self.targets)
        return RegisterBox(tag, say(tag), say(register.short), value, self._is_long(register))

    def _held(self, tag: str, state: State, instruction: bool) -> str:
        """What a register holds. Before the first instruction has come there is none in CIR, and
        zeros in their place would be one: HALT."""
        none_yet = tag == "CIR" and not cir_is_instruction(self.machine, state)
        return (
            NONE_YET if none_yet and not state.cir else self.reading.term(tag, state, instruction)
        )

    def _is_long(self, register: Register) -> bool:
        """Whether some value that the register can hold is too long to stand beside its tag."""
        if register.holds is not Holds.WORD:
            return False
        smallest = self.machine.pattern(self.machine.smallest)
        texts = [self.reading.number(smallest)]
        if register.tag in ("CIR", "MDR"):
            texts.append(self.reading.instruction(smallest))
        return max(map(len, texts)) > LONGEST_BESIDE_TAG

    def _adding(self) -> str:
        """What the adder of addresses makes in these steps, where there is room for it."""
        for each in self.moments:
            transfer = each.step.kind.transfer if each.step else None
            if transfer and transfer.worker == ADDER:
                terms = [self.reading.term(term, each.before) for term in transfer.terms]
                made = f"{' + '.join(terms)} = {self.reading.term(transfer.target, each.after)}"
                return made if len(made) <= LONGEST_SUM else ""
        return ""

    def _counting(self, tag: str) -> str:
        """How a register counts in these steps; both ways where it does not."""
        for each in self.moments:
            transfer = each.step.kind.transfer if each.step else None
            if transfer and transfer.target == tag and transfer.worker == tag:
                return f"{transfer.operation.shown if transfer.operation else ''}{transfer.right}"
        return "\N{PLUS-MINUS SIGN}1"

    # Scenes that show something else than the machine.

    def _zoom(self) -> Zoom | None:
        scale = self.view.scene.scale
        return make_zoom(scale, self.view.step) if scale else None

    def _speed(self) -> tuple[str, ...]:
        """The speed of a clock beside the board's, at the start and at the end of the run."""
        speed, run = self.view.scene.speed, self.view.scene.run
        if speed is None or self.view.what_if or not (self.step is None or self.after.ending):
            return ()
        presses = run.phases if self.phases else None
        cycles = run.finish().cycles if self._length else 0
        return speed.sentences(self._length, cycles, self._pace, presses)

    @property
    def _pace(self) -> float:
        """The seconds that a step of the scene takes on the board."""
        scene, settings = self.view.scene, self.view.settings
        account = scene.cached(scene.cache) if scene.cache else None
        return seconds_per_step(scene.run, settings.depth, settings.speed, account)

    @property
    def _length(self) -> int:
        """How many steps the program of the scene takes; 0 where nobody knows, for it goes on."""
        run = self.view.scene.run
        return 0 if run.finish().ending is Ending.LIMIT else run.last_step

    @property
    def _speed_shown(self) -> Speed | None:
        return self.view.scene.speed if self.step is None or self.after.ending else None

    def _speed_picture(self) -> SpeedPicture | None:
        speed = self._speed_shown
        if speed is None or speed.asks_what_is_faster:
            return None
        return speed_picture(speed, self._length, self._pace)

    # What watches the run.

    @cached_property
    def _account(self) -> CacheAccount | None:
        return self.view.cache

    @cached_property
    def _looks(self) -> tuple[Look, ...]:
        """What came of the trips to memory of this press."""
        return self.view.looks

    def _cache(self) -> CachePicture | None:
        account = self._account
        if account is None:
            return None
        return cache_picture(
            account,
            self.reading,
            self.view.scene.program,
            self.before,
            self.after,
            self._looks,
            cache_block.in_full(account.shape),
        )

    def _pipeline(self) -> PipelinePicture | None:
        account, shape = self.view.scene.in_pipeline, self.view.scene.pipeline
        if account is None or shape is None:
            return None
        return pipeline_picture(
            account,
            self.reading,
            self.view.scene.program,
            self.after.memory,
            self.view.step,
            pipeline_block.in_words(shape),
        )

    def _race(self) -> Race | None:
        scene = self.view.scene
        if scene.compare is None or not scene.program.words:
            return None
        found = scene.compare.not_compared(scene.run)
        why_not = f"This program {found.why}." if found else ""
        names = [each.name for each in scene.compare.rivals]
        return race(scene.results, names, self.view.step, why_not)

    # Words.

    def _sentence(self) -> str:
        scene = self.view.scene
        if scene.scale is not None:
            return comparison(scene.scale, self.view.step) or f"{scene.title}."
        if not scene.program.words:
            return scene.title
        if (racing := self._race()) is not None:
            return racing.faster or scene.title
        limit = self.view.scene.limit
        what_if = self.view.what_if
        if what_if and what_if.step == self.view.step:
            return "The machine goes on from here as it would then."
        if (account := scene.in_pipeline) is not None:
            return tick_sentence(self.reading, account, self.view.step)
        looked = (
            [look_sentence(self.reading, self._account.shape, each) for each in self._looks]
            if self._account
            else []
        )
        if (self.phases or self.view.whole_phase) and self._ends_phase:
            words = phase_sentence(self.reading, self.moment, self.before, limit, self.hidden)
        else:
            words = sentence(self.reading, self.moment, limit, self.hidden)
            # Where there is a cache the word need not have come from memory.
            if looked:
                words = ""
        return " ".join(filter(None, (words, *looked, self._cost(), self._arrival())))

    @property
    def _ends_phase(self) -> bool:
        """Whether the phase is over here: where the depth is changed in its middle, it is not."""
        step = self.view.step
        return self.step is None or self.view.run.after_phase(step - 1) == step

    def _arrival(self) -> str:
        """What is said of a request that comes in these steps."""
        run, say = self.view.run, self.reading.wording.say
        steps = [each.step.number for each in self.moments if each.step]
        if what_if := self.view.what_if:
            # Before that the run was another one.
            steps = [each for each in steps if each > what_if.step]
            if not steps:
                return ""
        found = (arrival(run, each) for each in steps or [self.view.step])
        return say(next(filter(None, found), ""))

    def _waiting(self) -> str:
        """The requests that wait to be served, with what they bring where there is room for it."""
        waits = self.view.run.waiting(self.view.step)
        if not waits:
            return ""
        brought = ", ".join(self.reading.number(each.value) for each in waits)
        whole = f"{'Request waits' if len(waits) == 1 else 'Requests wait'}: {brought}"
        count = "Request waits" if len(waits) == 1 else f"{len(waits)} requests wait"
        return whole if len(whole) <= LONGEST_WAITING else count

    @property
    def _costs(self) -> tuple[Counted, ...]:
        """What the lesson has counted here. A cache, a pipeline and machines side by side have
        ticks of their own, and others."""
        scene = self.view.scene
        watched = scene.cache or scene.pipeline or scene.compare
        return () if watched else self.view.lesson.header.counted

    def _cost(self) -> str:
        """What the instruction costs that has just been decoded, where the lesson asks for it."""
        counted, kind = self._costs, self.step.kind if self.step else None
        if not counted or kind is None or kind.phase is not Phase.DECODE or not kind.instruction:
            return ""
        trips, ticks = (each in counted for each in (Counted.TRIPS, Counted.TICKS))
        return self.reading.wording.say(cost(self.machine, kind.instruction, trips, ticks))

    def _counted(self) -> str:
        counted = self._costs
        # A run in which something was changed is not the one that is counted.
        if not counted or not self.view.scene.program.words or self.view.what_if:
            return ""
        step = self.step.number if self.step else 0
        trips = self.view.scene.timeline.trips(step) if Counted.TRIPS in counted else None
        return self.reading.wording.say(so_far(step, trips, Counted.TICKS in counted))

    def _notation(self) -> str:
        if self.step is None or self.phases or self.view.whole_phase or self.view.scene.pipeline:
            return ""
        transfer = self.step.kind.transfer
        notation = self.reading.wording.say(transfer.written("status" not in self.hidden))
        return notation.replace("<-", "\N{LEFTWARDS ARROW}").replace(" - ", " \N{MINUS SIGN} ")

    def _position(self) -> str:
        if self.view.scene.scale is not None:
            last = self.view.scene.scale.last_step
            return f"{self.view.step + 1} of {last + 1}"
        if self.view.scene.in_pipeline and self.view.step:
            return f"Tick {self.view.step}"
        if self.view.scene.compare is not None:
            return f"{self.view.step} of {self.view.scene.compare.last_step}"
        if self.step is None:
            return "At the start"
        where = f"Instruction {self.step.cycle}"
        if self.phases:
            return where
        _, number = self.view.run.place(self.step.number)
        return f"{where} \N{MIDDLE DOT} step {number}"

    # Memory.

    def _touched(self) -> tuple[int, ...]:
        """The addresses of the words that this moment reads or writes, in that order. A phase
        may have two: where an instruction says where the address of its value is stored."""
        found = [
            each.after.mar
            for each in self.moments
            if each.step
            and any(
                Place.MEMORY in (leg.source, leg.target)
                for beat in step_beats(each.step)
                for leg in beat
            )
        ]
        return tuple(dict.fromkeys(found))

    def _panes(self) -> Panes:
        *before, at = self.touched or (self.after.pc,)
        scene = self.view.scene
        watch = () if seen_whole(self.machine) else watch_list(scene)
        pointer = self._pointer(self.after) if uses_stack(self.machine, scene.program) else None
        return panes(self.machine, watch, at, self.after.pc, pointer, before)

    @staticmethod
    def _pointer(state: State) -> int:
        """The stack pointer of a machine that has one."""
        held = state.held("SP")
        assert isinstance(held, int)
        return held

    def _row(self, slot: int) -> Row:
        address = self.panes.addresses[slot]
        was, now = self.before.memory[address], self.after.memory[address]
        program = self.view.scene.program
        origin = program.origins[address] if address < len(program.origins) else None
        lit = address in self.touched
        changed = lit and Place.MEMORY in self.targets
        label = program.labels.get(address, "")
        if origin and not origin.is_data:
            kind, text = "instruction", self._written(now, program.labels)
            if is_grown(self.machine) and len(label) + len(text) > LONGEST_LINE:
                text = self._written(now, program.labels, short=True)
        else:
            kind, text, label = "data" if origin or now else "empty", label, ""
        pile = None
        if self.panes.is_piled(slot):
            at_first, at_last = (self._pile(address, each) for each in (self.before, self.after))
            pile = Value(at_first, at_last, at_first != at_last)
            # A label and the stack have not both room.
            kind, text, label = "data", "", ""
        return Row(
            slot=slot,
            at=address,
            address=self.reading.address(address),
            word=Value(self.reading.instruction(was), self.reading.instruction(now), changed),
            label=label,
            text=text,
            number=Value(self.reading.number(was), self.reading.number(now), changed),
            kind=kind,
            next=address == self.after.pc,
            was_next=address == self.before.pc,
            lit=lit,
            watched=self.panes.is_watched(slot),
            pile=pile,
            top=pile is not None and pile.now == TOP and "SP" not in self.hidden,
            was_top=pile is not None and pile.was == TOP and "SP" not in self.hidden,
            kept=self._kept(address) if pile else "",
        )

    def _kept(self, address: int) -> str:
        """The status and the program counter that a word keeps, where these steps write or read it
        as such."""
        for each in self.moments:
            kind = each.step.kind if each.step else None
            if kind is None or not kind.transfer.goes_to_memory or each.after.mar != address:
                continue
            if kind.phase is Phase.INTERRUPT or (kind.instruction and kind.instruction.restores):
                status, _, _, counter = brought_back(self.machine, each.after.memory[address])
                there = f"PC {self.reading.address(counter)}"
                return there if "status" in self.hidden else f"{status_shown(status)}, {there}"
        return ""

    def _pile(self, address: int, state: State) -> str:
        """What a word at the foot of memory is to the stack."""
        pointer = self._pointer(state)
        return FREE if address < pointer else TOP if address == pointer else PILED

    def _written(self, word: int, labels: Mapping[int, str], short: bool = False) -> str:
        """A word as source text, with its numbers in the base of the board."""
        instruction, operand = decode(self.machine, word)
        if instruction is None or not can_be_written(instruction, operand):
            return self.reading.number(word)
        named = labels.get(operand) if instruction.operand is Operand.ADDRESS else None
        number = self.reading.address(operand)
        if short:
            number = number.replace(" ", "").lstrip("0") or "0"
        return instruction.write(named or number)

    def _overview(self) -> tuple[str, ...]:
        if len(self.panes.addresses) == self.machine.memory_words:
            return ()
        cells = [USED if word else "" for word in self.after.memory]
        seen = set(self.panes.addresses)
        for address in seen.union(self.touched, (self.after.pc,)):
            # (The counter may be one past the last address.)
            if address < len(cells):
                kinds = {
                    cells[address]: True,
                    SEEN: address in seen,
                    NEXT: address == self.after.pc,
                    LIT: address in self.touched,
                }
                cells[address] = " ".join(kind for kind, holds in kinds.items() if kind and holds)
        return tuple(cells)

    # The devices, and what is to be done with them.

    def _inputs(self) -> Queue:
        """The inputs that are still to come, the next one first."""
        waiting = self.view.run.to_come(self.after)
        shown = [self.reading.number(each) for each in waiting[:MOST_IN_SIGHT]]
        return queue([Value(each, each) for each in shown], len(waiting))

    def _outputs(self) -> Queue:
        """The last outputs, the newest first."""
        first = max(self.after.sent - MOST_IN_SIGHT, 0)
        sent = self.view.run.outputs(self.after.sent, first)
        values = [
            Value("", self.reading.number(each), at >= self.before.sent)
            for at, each in reversed([*enumerate(sent, start=first)])
        ]
        return queue(values, self.after.sent)

    def _output_text(self) -> tuple[Value, Value] | None:
        """All that was sent as a line of text, where words are read as characters: its end, as much
        as a column and as a row have room for."""
        if self.view.settings.base != CHARACTERS or not self.after.sent:
            return None
        first = max(self.after.sent - MOST_AS_TEXT, 0)
        sent = list(self.view.run.outputs(self.after.sent, first))
        numbers = [show_word(self.machine, each, "denary") for each in sent]
        new = self.after.sent - self.before.sent
        bits = self.machine.word_bits
        now = as_text(sent, bits, numbers)
        was = as_text(sent[: len(sent) - new], bits, numbers[: len(sent) - new])
        column, row = (
            Value(_end(was, room), _end(now, room), new > 0) for room in (COLUMN_TEXT, ROW_TEXT)
        )
        return column, row

    def _goal(self) -> str:
        """The goal of the scene's task: before the first step, and once the program has ended."""
        task = self.view.scene.task
        return task.goal if task and (self.step is None or self.after.ending) else ""
