"""Claims: fragments of sentences whose numbers are worked out from the run.

``claims.txt`` has one claim a line. Its words are those of the lessons (a regular expression); in
place of each number stands, in braces, what it must be: an expression over the names of
:func:`_names`, such as ``{acc}`` or ``{ticks(1)}``. ``{n=}`` takes the number as it is written and
calls it n, for the rest of the claim to be held to it; ``<a>`` does so with an instruction. The
numbers themselves stand in the lessons alone.

A line ``# 04`` starts the claims of lesson 4, ``# 04.2`` those of its second scene, ``# all`` those
that any lesson may make where its own say nothing of a number. Under ``# free`` stand the numbers
that are not about a run, each with the reason after a tilde.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property, lru_cache
from pathlib import Path
from types import CodeType
from typing import Any

from sympy import divisors

from app.lesson.file.reader import read_file
from app.lesson.model import Lesson, Scene
from app.machine.machine import EIGHT_BIT
from app.machine.source.assembler import assemble
from app.paths import resource
from tests.codes import ALL_CODES, CODES, EXECUTE_STEPS, HALF_BITS, word
from tests.hardware.rtl import Asked, Snapshot, signed

from .faster import Caching, Piped
from .numbers import NUMBER, is_bits, numbers, value
from .ran import DECODE_STEPS, EFFECTS, FETCH_STEPS, JUMPS, Ran

LESSONS = {path.stem: path for path in sorted(resource("lessons").glob("*.md"))}
_FILE = Path(__file__).with_name("claims.txt")
_PART = re.compile(r"\{([^}]+)\}|<(\w)>")
_INSTRUCTION = r"(?-i:[A-Z]{3,}(?: #?\d+| #)?)"
_OF_RUN = (
    *("steps", "count", "ticks", "outs", "acc_after", "values", "inputs"),
    *("addr", "image", "size", "lines", "word_of", "operand_of", "jumps"),
)
_BUILTINS = {each.__name__: each for each in (bin, dict, int, len, max, round, str, sum)}
_SILENT = (
    *("program", "inputs", "interrupts", "show", "watch", "scale", "speed", "solution"),
    *("pipeline", "compare"),
)


@dataclass(frozen=True)
class Claim:
    """``slots`` are the groups that hold numbers, each with its expression; empty where the number
    is only taken. ``why`` is the reason of a free one."""

    where: str
    pattern: re.Pattern[str]
    slots: dict[str, str]
    why: str = ""


@dataclass(frozen=True)
class Unit:
    """A piece of a lesson's text: a paragraph of notes, a cue, a goal. ``scene`` counts from 1;
    0 is the header."""

    lesson: str
    scene: int
    kind: str
    line: int
    text: str


def read_claims() -> list[Claim]:
    found = []
    where = ""
    for line in _FILE.read_text(encoding="utf-8").splitlines():
        if line.startswith("# "):
            where = line[2:].strip()
        elif line.strip() and not line.startswith(";"):
            text, _, why = line.partition(" ~ ") if where == "free" else (line, "", "")
            found.append(_claim(where, text.strip(), why.strip()))
    return found


def _claim(where: str, text: str, why: str) -> Claim:
    pattern, slots, at = "", {}, 0
    for part in _PART.finditer(text):
        pattern += text[at : part.start()]
        at = part.end()
        if part[2]:
            pattern += f"(?P<{part[2]}>{_INSTRUCTION})"
            continue
        expression = part[1]
        name = expression[:-1] if expression.endswith("=") else f"_{len(slots)}"
        slots[name] = "" if expression.endswith("=") else expression
        pattern += f"(?P<{name}>{NUMBER})"
    pattern += text[at:]
    return Claim(where, re.compile(pattern, re.IGNORECASE), slots, why)


def units(slug: str, source: str) -> Iterator[Unit]:
    """What a lesson says, piece by piece. Programs, inputs, cases and choices are what the run is
    made of, or are checked when the file is read; places of cues only say where it is looked at."""
    scene, block, rules = 0, "", 0
    piece: list[str] = []
    first = 0

    def flush() -> Iterator[Unit]:
        text = re.sub("[*`]", "", " ".join(" ".join(piece).split()))
        kind = block or ("notes" if rules > 1 else "header")
        if kind == "cues":
            text = re.sub(r"\s*\[[^\]]*\]$", "", text.partition(": ")[2])
        if text and kind not in _SILENT:
            yield Unit(slug, scene, kind, first, text)
        piece.clear()

    for at, line in enumerate([*source.splitlines(), ""], start=1):
        fence = line.startswith("```")
        starts = fence or not line.strip() or re.match(r"- |\||  - |  \w[^:]*: ", line)
        goes_on = line.startswith(" ") if block == "cues" else block not in ("question", "task")
        silent = block in ("question", "task") and not re.match("before |goal: ", line)
        if starts or rules < 2 or not goes_on:
            yield from flush()
        if fence:
            block = "" if block else line[3:].strip()
        elif line == "---":
            rules += 1
        elif line.startswith("# ") and not block:
            scene += 1
        elif not block and line.startswith("cache: ") and rules > 1:
            pass  # a setting of the scene, as a line of the header is
        elif line.strip() and not (silent if block else rules < 2 and line[0] != " "):
            first = first if piece else at
            piece.append(line.partition(": ")[2] if block == "question" else line)
    yield from flush()


class Context:
    """A lesson with the runs of its scenes, for the expressions of claims."""

    def __init__(self, slug: str) -> None:
        self.lesson: Lesson = read_file(LESSONS[slug])
        self.number = int(slug.split("-")[0])
        self.rans = [
            Ran(each.program, self._signed(each), self._requests(each))
            if each.program.words
            else None
            for each in self.lesson.scenes
        ]
        self.minutes = [
            int(re.findall(r"<strong>(\d+) minutes", each.notes)[0]) for each in self.lesson.scenes
        ]
        self._known: dict[tuple[int, int, int], dict[str, Any]] = {}

    def _signed(self, scene: Scene) -> list[int]:
        bits = self.lesson.header.machine.word_bits
        return [signed(each, bits) for each in scene.inputs]

    def _requests(self, scene: Scene) -> tuple[Asked, ...]:
        bits = self.lesson.header.machine.word_bits
        return tuple(
            Asked(each.instruction, each.step, signed(each.value, bits)) for each in scene.requests
        )

    def ran(self, scene: int) -> Ran:
        found = self.rans[scene - 1]
        assert found
        return found

    @cached_property
    def places(self) -> dict[int, list[tuple[int, int]]]:
        """The steps of each cue, by the line that it stands on: before it and at its end; and
        those at which a question is asked."""
        found = {}
        for scene in self.lesson.scenes:
            for cue in scene.cues:
                spans = scene.timeline.spans(cue.when)
                found[cue.line] = [(max(each.first - 1, 0), each.last) for each in spans]
            lines = {each.line: each.place.line for each in scene.asked}
            for asked in scene.questions:
                found.setdefault(lines[asked.line], []).append((asked.step, asked.step))
        return found

    def names(self, unit: Unit) -> Iterator[dict[str, Any]]:
        """What the expressions of a unit may speak of: once for each time that its place comes."""
        if unit.scene == 0 or self.rans[unit.scene - 1] is None:
            yield self._lesson_names(unit.scene)
            return
        ran = self.ran(unit.scene)
        whole = [(0, ran.steps)]
        placed = unit.kind in ("cues", "question")
        scene = self.lesson.scenes[unit.scene - 1]
        if scene.paced is not scene.run:
            # Its places are ticks, or machines: of what the machine holds there nothing is said.
            names = self._lesson_names(unit.scene) | _names(ran, 0, ran.steps)
            for _, tick in self.places.get(unit.line, [(0, 0)]) if placed else [(0, 0)]:
                yield names | {"tick": tick, "finished": self.piped(unit.scene).finished(tick)}
            return
        for before, last in self.places.get(unit.line, whole) if placed else whole:
            key = (unit.scene, before, last)
            if key not in self._known:
                self._known[key] = self._lesson_names(unit.scene) | _names(ran, before, last)
                if scene.cache:
                    now = self.cached(unit.scene, step=last)
                    self._known[key] |= {"now": now, "look": now.last_look(before)}
            yield self._known[key]

    def cached(
        self, scene: int, lines: int = 0, words: int = 0, ways: int = 1, step: int | None = None
    ) -> Caching:
        """The run of a scene with its cache, or with another one."""
        shape = self.lesson.scenes[scene - 1].cache or self.lesson.header.cache
        assert shape
        if not lines:
            lines, words, ways = shape.lines, shape.words, shape.ways
        return Caching(self.ran(scene), lines, words, ways, shape.memory_ticks, step)

    def piped(self, scene: int, stages: int = 0, memories: int = 1) -> Piped:
        """The run of a scene in its pipeline, or in another one."""
        shape = self.lesson.scenes[scene - 1].pipeline
        if not stages:
            stages, memories = (shape.stages, shape.memories) if shape else (3, 1)
        return Piped(self.ran(scene), stages, memories)

    def _lesson_names(self, number: int) -> dict[str, Any]:
        machine = self.lesson.header.machine
        scenes = self.lesson.scenes
        half = HALF_BITS[machine.name]
        bits = 2 * half
        solutions = [each for each in scenes if each.solution]

        def changed(scene: int = number, swaps: tuple[str, ...] = (), **labels: int) -> Ran:
            """A scene's run with other data, and with words of its program exchanged in pairs."""
            source = scenes[scene - 1].program.source
            for label, number in labels.items():
                source = re.sub(rf"\b({label}:\s+)-?\d+", rf"\g<1>{number}", source)
            for old, new in zip(swaps[::2], swaps[1::2], strict=True):
                assert re.search(old, source), old
                source = re.sub(old, new, source)
            program = assemble(machine, source)
            assert not program.problems, program.problems
            return Ran(program, self.ran(scene).inputs, self.ran(scene).requests)

        def run(*inputs: int, scene: int = number, of: Ran | None = None) -> Ran:
            return Ran((of or self.ran(scene)).program, inputs)

        def solved(*inputs: int) -> Ran:
            (scene,) = solutions
            assert scene.solution
            return Ran(scene.solution, inputs, self._requests(scene))

        names: dict[str, Any] = {
            "Fraction": Fraction,
            "changed": changed,
            "run": run,
            "solved": solved,
            "scene": self.ran,
            "number_of": lambda part: next(int(s[:2]) for s in LESSONS if part in s),
            "cached": lambda lines=0, words=0, ways=1, scene=number: self.cached(
                scene, lines, words, ways
            ),
            "piped": lambda stages=0, memories=1, scene=number: self.piped(scene, stages, memories),
            # A scene's program on a machine with a slow memory, and with a cache before it.
            "slow": lambda ticks: Caching(self.ran(number), 1, 1, 1, ticks).without,
            "quick": lambda lines, words: Caching(self.ran(number), lines, words, 1, 10).ticks,
            "cores": lambda count, percent: (
                1 / (1 - Fraction(percent, 100) + Fraction(percent, 100 * count))
            ),
            "minutes": (self.lesson.header.minutes or 0)
            - sum(each for at, each in enumerate(self.minutes, start=1) if at != number),
            "bits": bits,
            "memory_words": 1 << half,
            "operand_max": (1 << half) - 1,
            "highest": (1 << bits - 1) - 1,
            "lowest": -(1 << bits - 1),
            "unsigned": lambda number: number % (1 << bits),
            "signed": lambda text: signed(int(text, 2), bits),
            "twos": lambda number: f"{number % (1 << bits):0{bits}b}",
            # Of half a word: its bits, and the number with a sign that they are.
            "b8": lambda number: f"{number % 256:08b}",
            "s8": lambda number: (number + 128) % 256 - 128,
            # The places of the bits that are 1, from the left.
            "lit": lambda number: [at for at in range(bits - 1, -1, -1) if number >> at & 1],
            "code": lambda text: f"{word(text, machine.name):0{bits}b}",
            "opcode": lambda text: f"{_opcode(text):0{half}b}",
            "kinds": lambda name: sum(each.split()[0] == name for each in CODES),
            "last_bit": lambda written: CODES[written] & 1,
            "highest_of_three": Ran(assemble(EIGHT_BIT, HIGHEST_OF_THREE), (1, 2, 3)),
            "total_and_count": Ran(assemble(EIGHT_BIT, TOTAL_AND_COUNT), (0,)),
            "gate": _gate,
            "largest_factor": lambda number: int(divisors(number)[-2]),
            "before": number - 1,
        }
        if number:
            here = scenes[number - 1]
            names |= {
                "clock": here.speed and here.speed.clock,
                "lengths": [each.length for each in here.scale.stations] if here.scale else [],
                "stations": [each.name for each in here.scale.stations] if here.scale else [],
                "lab_cores": here.speed.cores if here.speed else (),
                "rivals": here.compare.rivals if here.compare else (),
                "cases": here.task.cases if here.task else (),
                "speeds": [each.actions.speed for each in here.cues if each.actions.speed],
            }
            if here.task:
                names["given"] = [[signed(n, bits) for n in c.inputs] for c in here.task.cases]
                taken = re.search(r"SUBTRACT #(\d+)", here.solution.source if here.solution else "")
                names["operand_taken"] = int(taken[1]) if taken else None
                names["wanted"] = [[signed(n, bits) for n in c.outputs] for c in here.task.cases]
        return names


def _opcode(text: str) -> int:
    """The code of an instruction by its name, with a hash where it takes a number."""
    found = [
        code
        for written, code in CODES.items()
        if written in (text, f"{text} a", f"{text}n" if text.endswith("#") else text)
    ]
    (only,) = found
    return only


def _names(ran: Ran, before: int, last: int) -> dict[str, Any]:
    """What the run of a scene says at a place: ``before`` and ``last`` are steps."""
    was, now = ran.after(before), ran.after(last)
    here = next((each for each in ran.done if each.first <= last <= each.last), None)
    done = [each for each in ran.done if each.last <= last]
    left, operand = divmod(now.cir, 1 << ran.half)

    def stored(state: Snapshot, label: str) -> int:
        return signed(state.memory[ran.addr(label)], ran.bits)

    names: dict[str, Any] = {each: getattr(ran, each) for each in _OF_RUN}
    names |= {
        "out": now.outputs[-1] if now.outputs else None,
        "acc0": signed(was.acc, ran.bits),
        "acc": signed(now.acc, ran.bits),
        "pc0": was.pc,
        "pc": now.pc,
        "mar": now.mar,
        "mdr": signed(now.mdr, ran.bits),
        "x": signed(now.x, ran.bits),
        "sp0": was.sp,
        "sp": now.sp,
        "carry": now.carry,
        "status": now.status,
        "was_then": was,
        "done": ran.done,
        "is_now": now,
        "here": here,
        "written": ran.written(before + 1, last),
        "left": f"{left:0{ran.half}b}",
        "right": f"{operand:0{ran.half}b}",
        "word": f"{now.cir:0{ran.bits}b}",
        "operand": operand,
        # What the ALU works with: what came from memory, or the operand itself.
        "other": signed(now.mdr, ran.bits) if left in _FROM_MEMORY else operand,
        "mem": lambda label: stored(now, label),
        "mem0": lambda label: stored(was, label),
        "operand_now": lambda at: now.memory[at] & ((1 << ran.half) - 1),
        # The instructions with the same right half as the first one.
        "same": [at for at in range(ran.lines) if ran.operand_of(at) == ran.operand_of(0)],
        "rolls": sum(each.startswith("roll") for each in ran.program.labels.values()),
        "ticks_here": here and here.last - here.first + 1,
        "fetch_steps": FETCH_STEPS,
        "decode_steps": DECODE_STEPS,
        # The words that are written as data.
        "data": [
            signed(word, ran.bits)
            for word, origin in zip(ran.program.words, ran.program.origins, strict=True)
            if origin.is_data
        ],
        "trips_in_all": sum(EFFECTS[each.code].count("memory[MAR]") for each in ran.done),
        "trips": lambda number: EFFECTS[ran.done[number - 1].code].count("memory[MAR]"),
        "carries": [each.now.carry for each in ran.done if each.code in _SHIFTS],
        "calls": _CALLS,
        # What requests bring, after which instructions they are served, and the run without them.
        "rung": [each.value for each in ran.requests],
        "served": ran.served,
        "without": ran.without,
        # How many steps there are from an instruction to where it first comes again.
        "apart": lambda written: _apart(ran, ALL_CODES[written]),
        # The addresses to come back to, one for each CALL that is carried out.
        "backs": [each.address + 1 for each in ran.met(_CALLS)],
        # The words of the stack where it is deepest, from its bottom.
        "pile": _pile(ran),
        "times": lambda *written: sum(
            each.code in {ALL_CODES[w] for w in written} for each in done
        ),
        "met": len(ran.met(JUMPS)),
        "taken": sum(each.now.pc != each.address + 1 for each in ran.met(JUMPS)),
        "accs": lambda name: [
            signed(each.now.acc, ran.bits)
            for each in ran.done
            if each.code in {c for w, c in CODES.items() if w.startswith(name)}
        ],
    }
    if ran.program.address_of("row") is not None:
        # Lesson 9: what is stored first is the number itself; then each length is tried.
        names["tries"] = ran.values("row")[2:]
        # The smallest number for which the program comes to its end.
        names["least"] = next(n for n in (1, 2, 3) if Ran(ran.program, (n,)).halts)
    if ran.jumps:
        # Once round the loop that the last jump closes: in instructions, and in steps.
        back = ran.operand_of(ran.jumps[-1])
        names["turn_lines"] = ran.jumps[-1] - back + 1
        names["turn"] = sum(
            FETCH_STEPS + DECODE_STEPS + EXECUTE_STEPS[ran.program.words[at] >> ran.half]
            for at in range(back, ran.jumps[-1] + 1)
        )
    return names


# What lessons speak of and do not have in a program of their own.
HIGHEST_OF_THREE = """
        INPUT
        STORE best
        INPUT
        COMPARE best
        JUMP  skip IF LESS
        STORE best
skip:   INPUT
        COMPARE best
        JUMP  show IF MORE
        LOAD  best
show:   OUTPUT
        HALT
best:   0
"""
TOTAL_AND_COUNT = """
next:   INPUT
        COMPARE #0
        JUMP  depot IF EQUAL
        ADD   total
        STORE total
        LOAD  count
        ADD   #1
        STORE count
        JUMP  next
depot:  LOAD  total
        OUTPUT
        LOAD  count
        OUTPUT
        HALT
total:  0
count:  0
"""
GATE = """
        INPUT
        COMPARE #{most}
        JUMP  shut IF MORE
        LOAD  #1
        OUTPUT
        HALT
shut:   LOAD  #0
        OUTPUT
        HALT
"""


def _gate(most: int, people: int) -> int:
    return Ran(assemble(EIGHT_BIT, GATE.format(most=most)), (people,)).out


_FROM_MEMORY = {code for code, effect in EFFECTS.items() if "<- memory[MAR]" in effect}
_SHIFTS = {code for written, code in ALL_CODES.items() if written.startswith("SHIFT")}
_CALLS = {ALL_CODES["CALL a"]}


def _apart(ran: Ran, code: int) -> int:
    first, second, *_ = (each.first for each in ran.done if each.code == code)
    return second - first


def _pile(ran: Ran) -> list[int]:
    # The last of them, when all of it has been written.
    deepest = min(reversed((ran.start, *ran.snapshots)), key=lambda each: each.sp)
    return [deepest.memory[at] for at in range(len(deepest.memory) - 1, deepest.sp - 1, -1)]


@lru_cache
def context(slug: str) -> Context:
    return Context(slug)


@lru_cache(maxsize=256)
def place_names(slug: str, scene: int, before: int, last: int) -> dict[str, Any]:
    """What may be spoken of at a place of a scene, which goes from one step to another."""
    found = context(slug)
    return found._lesson_names(scene) | _names(found.ran(scene), before, last)


@lru_cache
def claims() -> tuple[Claim, ...]:
    return tuple(read_claims())


@lru_cache(maxsize=512)
def claims_of(where: str) -> tuple[Claim, ...]:
    return tuple(each for each in claims() if each.where == where)


@lru_cache(maxsize=2048)
def _compiled(expression: str) -> CodeType:
    return compile(expression.strip(), "<claim>", "eval")


def complaints(unit: Unit) -> list[str]:
    """What is wrong with a unit: numbers that no claim holds, and those that it does not bear."""
    numbered = f"{unit.lesson[:2]}.{unit.scene}"
    own = [*claims_of(unit.lesson[:2]), *claims_of(numbered)]
    wrong: list[str] = []
    covered: set[int] = set()
    for group, loose in ((own, False), (claims_of("all"), True)):
        taken = set(covered)
        for claim in group:
            for found in claim.pattern.finditer(unit.text):
                starts = {found.start(name) for name in claim.slots}
                if loose and starts & taken:
                    continue
                for names in context(unit.lesson).names(unit):
                    wrong += _wrong(claim, found, names)
                covered |= starts
                if any(claim.slots.values()):
                    covered |= set(_inside(found))
    covered |= free(unit)
    wrong += [
        f"nothing is known of '{each[0]}'"
        for each in numbers(unit.text)
        if each.start() not in covered
    ]
    return wrong


def free(unit: Unit) -> set[int]:
    """Where numbers start that are not about a run."""
    found = (m for c in claims_of("free") for m in c.pattern.finditer(unit.text))
    return {
        each.start()
        for match in found
        for each in numbers(unit.text)
        if match.start() <= each.start() < match.end()
    }


def _inside(found: re.Match[str]) -> Iterator[int]:
    """Where numbers start that stand in the instructions of a claim."""
    for name, text in found.groupdict().items():
        if len(name) == 1 and text and text[0].isupper():
            yield from (found.start(name) + each.start() for each in numbers(text))


def _wrong(claim: Claim, found: re.Match[str], names: dict[str, Any]) -> list[str]:
    texts = found.groupdict()
    taken = {
        name: value(text) if name in claim.slots else text
        for name, text in texts.items()
        if not claim.slots.get(name)
    }
    wrong = []
    for name, expression in claim.slots.items():
        if not expression:
            continue
        try:
            true = eval(_compiled(expression), {"__builtins__": _BUILTINS, **names, **taken})
        except (ArithmeticError, AssertionError, LookupError, TypeError, ValueError) as error:
            wrong.append(f"'{found[0]}': {expression} cannot be worked out ({error!r})")
            continue
        said = value(texts[name])
        if isinstance(true, str) != is_bits(texts[name]):
            # A pattern such as 1000 could be a number, too; what is held says which it is.
            said = texts[name].replace(" ", "") if isinstance(true, str) else int(str(said))
        if said != (true if isinstance(true, str) else Fraction(true)):
            wrong.append(f"'{found[0]}': it says {texts[name]}, and {expression} is {true}")
    return wrong
