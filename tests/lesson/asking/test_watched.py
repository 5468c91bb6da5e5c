"""What is asked about a cache, a pipeline and machines side by side: every answer and every reason
held to the second account of :mod:`tests.machine.watching.clockwork`."""

from __future__ import annotations

import re
from collections import Counter
from fractions import Fraction
from functools import cache as remembered

import pytest

from app.lesson.asking.mixups import MixUp, Reason
from app.lesson.asking.subjects import WATCHED, Subject, read_subject
from app.lesson.asking.watched import MISS_EMPTY, MISS_OTHER, Racer, Watched, answer
from app.lesson.entries import Wrong
from app.lesson.file.reader import read_lesson
from app.machine.machine import SIXTEEN_BIT
from app.machine.run import Run
from app.machine.source.assembler import assemble
from app.machine.watching import cache, pipeline
from app.machine.watching.cache import CacheShape
from app.machine.watching.pipeline import PipelineShape
from tests.machine.watching import clockwork
from tests.machine.watching.test_accounts import run_of, second

SMALL, LARGE = CacheShape(2, 2), CacheShape(8, 2)
# Of a pipeline, and of machines side by side.
WATCHED_REASONS = {
    *("IN_CACHE_ALREADY", "PLACE_IS_EMPTY", "OTHER_LINE_THERE", "EVERY_READ_MISSES"),
    *("EVERY_READ_HITS", "HITS_COUNTED", "MISSES_COUNTED", "EACH_LINE_ONCE", "BIGGER_IS_FASTER"),
    *("EVERY_TRIP_TO_MEMORY", "EVERY_TRIP_ONE_TICK", "ONE_AFTER_ANOTHER", "EACH_FASTER"),
    *("NEVER_WAITS", "NOTHING_LOST", "ONLY_JUMPS", "ONLY_WAITING", "AS_MANY_AS_STAGES"),
    *("NO_FASTER", "ALL_SHARED", "ONLY_CLOCK", "ONLY_TICKS", "EQUALLY_FAST", "ONLY_HITS"),
}


def numbers(text: str) -> list[int]:
    return [int(each) for each in re.findall(r"\d+", text)]


def of_cache(program, shape: CacheShape) -> dict[str, int]:
    """Hits, misses, ticks and lines of the second account, of a whole run."""
    memory = clockwork.Cached(
        list(program.memory), shape.lines, shape.words, shape.ways, shape.memory_ticks
    )
    second(program, memory)
    found = Counter(kind for kind, _ in memory.looks)
    return {
        "hits": found["hit"],
        "misses": found["miss"],
        "reads": found["hit"] + found["miss"],
        "trips": len(memory.looks),
        "taken": sum(ticks for _, ticks in memory.looks),
    }


# The patterns of the sentences, and what the numbers in them must be, in their order.
CACHE_SENTENCES = {
    "EVERY_READ_MISSES": (r"This counts every read\. A miss brings .*", ("reads", "misses")),
    "EVERY_READ_HITS": (r"This counts every read\. Of .* was not there\.", ("reads", "misses")),
    "HITS_COUNTED": (r".* is how many were hits\. .*", ("hits", "misses")),
    "MISSES_COUNTED": (r".* is how many missed\. .*", ("misses", "hits")),
    "EACH_LINE_ONCE": (r"This counts each line once, .*", ("lines", "misses")),
    "EVERY_TRIP_TO_MEMORY": (r"This is as if there were no cache\. .*", ("hits", "one")),
    "EVERY_TRIP_ONE_TICK": (r"This is as if every trip .*", ("one", "miss")),
    "BIGGER_IS_FASTER": (
        r".* times the cache does not .* With 2 lines of 2 words it was .*",
        ("times", "times", "two", "two", "before", "misses"),
    ),
}


@remembered
def whole() -> list:
    """Programs that came to their end within what is followed, and did some work."""
    from tests.machine.watching.test_accounts import programs

    found = []
    for program in programs():
        run = run_of(program)
        if run.finish().ending == "halted" and run.last_step > 30:
            found.append(program)
    return found


def test_what_is_told_of_a_cache_is_true() -> None:
    told: Counter[str] = Counter()
    for program in whole():
        run = run_of(program)
        last = run.last_step
        small, large = (cache.follow(run, each) for each in (SMALL, LARGE))
        watched = Watched(large, (small, "2 lines of 2 words"))
        for account, shape in ((large, LARGE), (small, SMALL)):
            seen = watched if account is large else Watched(account)
            facts = of_cache(program, shape) | {"one": 1, "two": 2, "miss": 11, "times": 4}
            facts["before"] = of_cache(program, SMALL)["misses"]
            done, _ = second(program)
            read = [each.address for each in done]
            read += [at for each in done for kind, at in each.trips if kind == "read"]
            facts["lines"] = len({at // 2 for at in read})
            rights = {
                "hits": facts["hits"],
                "misses": facts["misses"],
                "ticks": facts["taken"] + last - facts["trips"],
            }
            values = {
                "EVERY_TRIP_TO_MEMORY": 10 * facts["trips"] + last - facts["trips"],
                "EVERY_TRIP_ONE_TICK": last,
                "EACH_LINE_ONCE": facts["lines"],
                "BIGGER_IS_FASTER": facts["before"] // 4,
            }
            for kind, right in rights.items():
                found = answer(Subject(kind), seen, 1, last)
                assert found.right == str(right), program.shape
                for each in found.wrong:
                    pattern, names = CACHE_SENTENCES[each.reason.name]
                    assert re.fullmatch(pattern, each.sentence), each.sentence
                    assert numbers(each.sentence) == [facts[name] for name in names]
                    assert each.value == values.get(each.reason.name, each.value)
                    told[each.reason.name] += 1
    assert set(told) == set(CACHE_SENTENCES)


# One of something beside a word for several, which no sentence may have.
ONE_OF_SEVERAL = re.compile(
    r"\b1 (?:more )?(?:hits|misses|writes|reads|ticks|machines|were|are|take)\b"
)


def sentences_of(watched: Watched, last: int, *kinds: str) -> list[str]:
    found = [answer(Subject(kind), watched, 1, last) for kind in kinds]
    return [
        text for each in found for text in (each.because, *(one.sentence for one in each.wrong))
    ]


def test_of_one_is_spoken_as_of_one() -> None:
    """Two instructions in a line of two words: one miss and one hit; a STORE writes once."""
    said: list[str] = []
    for source in ("LOAD #1\nHALT", "STORE 8\nHALT", "HALT", "LOAD a\nOUTPUT\nHALT\na: 1"):
        program = assemble(SIXTEEN_BIT, source)
        run = Run(SIXTEEN_BIT, program.words)
        small, large = (cache.follow(run, each) for each in (SMALL, LARGE))
        for account, other in ((small, None), (large, (small, "2 lines of 2 words"))):
            said += sentences_of(Watched(account, other), run.last_step, "hits", "misses", "ticks")
        for stages in (3, 5):
            piped = pipeline.follow(run, PipelineShape(stages))
            said += sentences_of(Watched(pipeline=piped), piped.ticks, "ticks", "lost", "faster")
    for program in whole():
        run = run_of(program)
        piped = pipeline.follow(run, PipelineShape(3))
        said += sentences_of(Watched(pipeline=piped), piped.ticks, "ticks", "lost", "faster")
    assert [each for each in said if ONE_OF_SEVERAL.search(each)] == []
    assert "Of 2 reads 1 was a hit and 1 missed." in said
    assert any(each.startswith("1 hit takes 1 tick, 1 miss 11, ") for each in said)


def test_hit_or_miss_is_what_a_cache_of_copies_does() -> None:
    told: Counter[str] = Counter()
    for program in whole():
        run = run_of(program)
        account = cache.follow(run, SMALL)
        memory = clockwork.Cached(list(program.memory), 2, 2, 1, 10)
        held: dict[int, int] = {}
        second(program, memory)
        for look, (kind, _) in zip(account.looks, memory.looks, strict=False):
            if kind == "write":
                continue
            step, address = look.trip.step, look.trip.address
            found = answer(Subject("look"), Watched(account), step, step)
            place = address // 2 % 2
            right = "hit" if kind == "hit" else MISS_OTHER if place in held else MISS_EMPTY
            held[place] = address
            assert found.right == right
            assert len(found.wrong) == 2
            for each in found.wrong:
                assert numbers(each.sentence) == [address]
                ends = each.sentence.endswith("so this is a hit.")
                assert ends == (right == "hit")
                assert ("Another line" in each.sentence) == (right == MISS_OTHER)
                told[each.reason.name] += 1
    assert set(told) == {"IN_CACHE_ALREADY", "PLACE_IS_EMPTY", "OTHER_LINE_THERE"}


PIPELINE_SENTENCES = {
    "ONE_AFTER_ANOTHER": (r"This is one instruction after another\. .*", ("ticks",)),
    "EACH_FASTER": (r"This is as if each instruction took one tick\. .*", ("stages", "ticks")),
    "NEVER_WAITS": (r"This is a pipeline that never waits: .*", ("ideal", "lost")),
    "NOTHING_LOST": (r"A pipeline that never waits would take .*", ("ideal", "ticks")),
    "ONLY_JUMPS": (r"This counts the jumps alone\. .*", ("other",)),
    "ONLY_WAITING": (r"This counts the waiting alone\. .*", ("jumps",)),
    "AS_MANY_AS_STAGES": (r"It would be .* times only if .*", ("stages", "ticks", "without")),
    "NO_FASTER": (r"No instruction gets faster, but .*", ("ticks", "without")),
}


@pytest.mark.parametrize("stages", [3, 5])
def test_what_is_told_of_a_pipeline_is_true(stages: int) -> None:
    told: Counter[str] = Counter()
    for program in whole():
        account = pipeline.follow(run_of(program), PipelineShape(stages))
        done, _ = second(program)
        starts, _ = clockwork.pipeline(done, stages, 1)
        # The last instruction is a HALT: it works a tick in each stage.
        ticks, ideal = starts[-1][-1], stages + len(done) - 1
        without = 0
        for each in done:
            kinds = [kind for kind, _ in each.trips]
            working = len(kinds) if stages == 3 else kinds.count("read")
            without += stages - 1 + max(working, 1)
        facts = {"ticks": ticks, "ideal": ideal, "lost": ticks - ideal, "stages": stages}
        facts["without"] = without
        rights = {"ticks": str(ticks), "lost": str(ticks - ideal)}
        for kind in ("ticks", "lost", "faster"):
            found = answer(Subject(kind), Watched(pipeline=account), 1, account.ticks)
            if kind == "faster":
                assert found.right != "just as fast" or ticks == without
                ratio = float(found.right.removeprefix("about ").removesuffix(" times"))
                assert ratio == float(round(Fraction(without, ticks), 2))
            else:
                assert found.right == rights[kind]
            # What jumps cost and what waiting costs make up the whole.
            parts = [each for each in found.wrong if each.reason.name.startswith("ONLY")]
            if parts:
                jumps, other = (int(str(each.value)) for each in parts)
                facts |= {"jumps": jumps, "other": other}
                assert jumps + other == facts["lost"]
            for each in found.wrong:
                pattern, names = PIPELINE_SENTENCES[each.reason.name]
                assert re.fullmatch(pattern, each.sentence), each.sentence
                assert numbers(each.sentence) == [facts[name] for name in names]
                told[each.reason.name] += 1
    assert set(told) == set(PIPELINE_SENTENCES)


def racers(*machines: tuple[int, int, int, Fraction]) -> Watched:
    """Machines with ticks, a clock, cores and a share."""
    made = []
    for at, (ticks, clock, count, share) in enumerate(machines):
        time = Fraction(ticks, clock) * ((1 - share) + share / count)
        made.append(Racer(f"machine {at}", ticks, time, Fraction(clock), count, share))
    return Watched(racers=tuple(made))


def test_what_is_told_of_machines_side_by_side_is_true() -> None:
    """Twice the clock and 1.5 times the ticks; and four cores for 80 % of the work: 2.5 times, the
    example of Amdahl's law worked out by hand (1 / (0.2 + 0.8 / 4))."""
    one = Fraction(1)
    clock = answer(Subject("faster"), racers((600, 1, 1, one), (900, 2, 1, one)), 1, 2)
    assert clock.right == "about 1.33 times"
    said = {each.reason.name: str(each.value) for each in clock.wrong}
    assert said == {
        "ONLY_CLOCK": "2 times",
        "ONLY_TICKS": "about 0.67 times",
        "EQUALLY_FAST": "just as fast",
    }
    cores = answer(Subject("faster"), racers((600, 1, 1, one), (600, 1, 4, Fraction(4, 5))), 1, 2)
    assert cores.right == "2.5 times"
    assert {each.reason.name: str(each.value) for each in cores.wrong} == {
        "ALL_SHARED": "4 times",
        "EQUALLY_FAST": "just as fast",
    }
    piped = Racer("piped", 17, Fraction(17), one, 1, one, 3)
    plain = Racer("plain", 33, Fraction(33), one, 1, one)
    staged = answer(Subject("faster"), Watched(racers=(plain, piped)), 1, 2)
    assert staged.right == "about 1.94 times"
    many = next(each for each in staged.wrong if each.reason is Reason.AS_MANY_AS_STAGES)
    assert many.value == "3 times" and numbers(many.sentence) == [3, 17, 33]
    cached = Racer("cached", 266, Fraction(266), one, 1, one, 0, 10)
    bought = answer(Subject("faster"), Watched(racers=(plain, cached)), 1, 2).wrong
    (hits,) = (each for each in bought if each.reason is Reason.ONLY_HITS)
    assert hits.value == "10 times" and numbers(hits.sentence) == [1, 10, 266, 33]
    sentences = {each.reason.name: each.sentence for each in (*clock.wrong, *cores.wrong)}
    assert numbers(sentences["ALL_SHARED"]) == [4, 4, 80]
    assert numbers(sentences["ONLY_CLOCK"]) == [1, 900, 0, 600]  # the names are numbers, too
    assert numbers(sentences["ONLY_TICKS"]) == [600, 900]
    assert numbers(sentences["EQUALLY_FAST"]) == [600, 600]


def test_every_reason_of_these_is_looked_at_here() -> None:
    looked = {*CACHE_SENTENCES, *PIPELINE_SENTENCES, "IN_CACHE_ALREADY", "PLACE_IS_EMPTY"}
    looked |= {
        "ONLY_HITS",
        "OTHER_LINE_THERE",
        "ALL_SHARED",
        "ONLY_CLOCK",
        "ONLY_TICKS",
        "EQUALLY_FAST",
    }
    assert looked == WATCHED_REASONS
    assert {Reason[each].mixup for each in WATCHED_REASONS} == {
        *(MixUp.HIT_OR_MISS, MixUp.LINES_DRIVEN_OUT, MixUp.BIGGER_IS_FASTER, MixUp.MISS_COSTS),
        *(MixUp.STAGES_OVERLAP, MixUp.EACH_FASTER, MixUp.HAZARDS, MixUp.NOT_ALL_SHARED),
        MixUp.TICKS_AND_CLOCK,
    }


@pytest.mark.parametrize("text", ["hit or miss", "the misses", "The ticks lost", "how much faster"])
def test_what_is_asked_is_read(text: str) -> None:
    assert read_subject(text).watched and read_subject(text).kind in WATCHED


@pytest.mark.parametrize("kind", sorted(WATCHED))
def test_a_scene_that_has_nothing_to_answer_says_so(kind: str) -> None:
    with pytest.raises(Wrong):
        answer(Subject(kind), Watched(), 1, 1)


LESSON = """---
title: Asked
machine: 16-bit
cache: 2 lines of 4 words
---

# Cache

```program
        LOAD  here
        ADD   here
        HALT
here:   7
```

```question
before second fetch of ADD: Hit or miss?
ask: hit or miss
```

```question
ask at start: How many misses?
answer at end
ask: the misses
```

# Pipeline

```pipeline
3 stages
```

```question
ask at start: How many ticks?
answer at end
ask: the ticks
```

```question
before first ADD: What will it hold?
ask: the accumulator
```
"""


def test_questions_of_a_lesson_are_asked_at_their_places() -> None:
    lesson = read_lesson("asked", LESSON)
    first, second_scene = lesson.scenes
    (misses,) = first.questions
    assert misses.choices[misses.answer] == "1" and misses.late
    (ticks,) = second_scene.questions
    assert ticks.reveal_step == second_scene.paced.last_step
    # A place that never comes, and what cannot be asked in a pipeline, are told.
    told = " ".join(each.what for each in lesson.problems)
    assert "never comes" in told and "not those of the machine" in told
