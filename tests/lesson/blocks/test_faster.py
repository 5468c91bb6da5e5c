"""What a lesson may say of a cache, a pipeline, machines side by side, and cores."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest

from app.lesson.blocks import compare as compare_block
from app.lesson.blocks.cache import in_words, read_cache, read_memory_ticks
from app.lesson.blocks.compare import read_compare
from app.lesson.blocks.pipeline import read_pipeline
from app.lesson.blocks.speed import read_speed
from app.lesson.entries import Wrong
from app.lesson.file.reader import read_lesson
from app.machine.watching.cache import CacheShape
from app.machine.watching.pipeline import PipelineShape
from tests.bell import LESSON as BELL


@pytest.mark.parametrize(
    ("text", "shape"),
    [
        ("4 lines of 4 words", CacheShape(4, 4)),
        ("1 line of 8 words", CacheShape(1, 8)),
        ("4 Lines  of 2 words, 2-way", CacheShape(4, 2, 2)),
        ("8 lines of 1 word, direct mapped", CacheShape(8, 1)),
        ("none", None),
    ],
)
def test_a_cache_is_read_and_said_alike(text: str, shape: CacheShape | None) -> None:
    assert read_cache(text) == shape
    if shape:
        assert read_cache(in_words(shape)) == shape


@pytest.mark.parametrize(
    "text", ["4 lines", "3 lines of 4 words", "4 lines of 99 words", "1 line of 4 words, 2-way", ""]
)
def test_what_is_no_cache_is_told(text: str) -> None:
    with pytest.raises(Wrong) as wrong:
        read_cache(text)
    assert wrong.value.what and wrong.value.mend


def test_how_slow_memory_is() -> None:
    assert read_memory_ticks("10 ticks") == 10 and read_memory_ticks("1") == 1
    for text in ("0 ticks", "ten", "100000 ticks"):
        with pytest.raises(Wrong):
            read_memory_ticks(text)


@pytest.mark.parametrize(
    ("text", "shape"),
    [
        ("3 stages, one memory", PipelineShape(3, 1)),
        ("stages: five\nmemory: two memories", PipelineShape(5, 2)),
        ("", PipelineShape()),
    ],
)
def test_a_pipeline_is_read(text: str, shape: PipelineShape) -> None:
    assert read_pipeline(text, 1) == (shape, [])


@pytest.mark.parametrize("text", ["4 stages", "one memory, two memories", "fast"])
def test_what_is_no_pipeline_is_told_at_its_line(text: str) -> None:
    shape, (problem, *_) = read_pipeline(f"\n{text}", 10)
    assert shape is None and problem.line == 11 and problem.mend


RACE = """slow: clock 1 GHz, memory takes 10 ticks
with a cache: clock 1 GHz, cache 4 lines of 4 words, 2-way, memory takes 10 ticks
piped: clock 500 MHz, pipeline 5 stages, two memories
four: clock 1 GHz, cores 4, parallel 80 %"""


def test_one_machine_is_spoken_of_as_one() -> None:
    _, (problem,) = read_compare("slow: clock 1 GHz", 1)
    assert problem.what == "There is 1 machine to compare."


def test_machines_to_compare_are_read() -> None:
    comparison, problems = read_compare(RACE, 1)
    assert problems == [] and comparison
    slow, cached, piped, four = comparison.rivals
    assert slow.memory_ticks == 10 and cached.cache == CacheShape(4, 4, 2, 10)
    assert piped.pipeline == PipelineShape(5, 2) and piped.clock == 5 * 10**8
    assert (four.cores, four.parallel) == (4, Fraction(4, 5))


@pytest.mark.parametrize(
    "words", ["Cache SIX Lines", "Memory Takes Ten ticks", "Cores Four", "Parallel Much"]
)
def test_what_a_machine_cannot_have_is_quoted_as_it_is_written(words: str) -> None:
    _, (problem,) = read_compare(f"a: clock 1 GHz, {words}\nb: CLOCK 1 GHz, PIPELINE 3 STAGES", 1)
    assert f"'{words.removeprefix('Memory ').partition(' ')[2]}'" in problem.what
    _, (problem,) = read_compare("a: clock 1 GHz, Six STAGES one After another\nb: clock 1 GHz", 1)
    assert "'Six'" in problem.what


def test_what_is_said_of_a_machine_is_that_machine() -> None:
    """Written into a lesson again, it gives the same one."""
    said = f"{RACE.rpartition(chr(10))[0]}\nstaged: clock 1 GHz, 3 stages one after another"
    for text in (RACE, said):
        comparison, _ = read_compare(text, 1)
        assert comparison
        lines = (f"{each.name}: clock {compare_block.in_words(each)}" for each in comparison.rivals)
        again = (
            "\n".join(lines)
            .replace("cache of", "cache")
            .replace("five stages", "pipeline 5 stages")
        )
        again = re.sub(r"(\d+) cores, (\d+ %) shared", r"cores \1, parallel \2", again)
        assert read_compare(again, 1) == (comparison, [])


@pytest.mark.parametrize(
    "text",
    [
        "a: clock 1 GHz",
        "a: clock 1 GHz\nA: clock 2 GHz",
        "a: clock 1 GHz\nb: wings",
        "a: clock 1 GHz\nb: cache 4 lines of 4 words, pipeline 3 stages",
        "a: clock 1 GHz\nb: two memories",
        "a: clock 1 GHz\nb: pipeline 3 stages, memory takes 10 ticks",
        "a: clock 1 GHz\nb: memory takes 10 ticks, 3 stages one after another",
        "a: clock 1 GHz\nb: cores 0",
        "a: clock 1 GHz\nb: parallel 120 %",
        "a: clock 1 GHz\nb: pipeline 4 stages",
        "no colon\nb: clock 1 GHz",
    ],
)
def test_what_cannot_be_compared_is_told(text: str) -> None:
    comparison, problems = read_compare(text, 1)
    assert comparison is None and problems and all(each.mend for each in problems)


def test_a_speed_may_ask_what_is_faster() -> None:
    speed, problems = read_speed(
        "clock: 2 GHz\nticks per instruction: 4\ncores: 1, 2, 4, 8\nparallel: 80 %", 1
    )
    assert problems == [] and speed
    # Amdahl 1967, worked out by hand: 1 / (0.2 + 0.8 / n).
    assert dict(speed.gains) == {1: 1, 2: Fraction(5, 3), 4: Fraction(5, 2), 8: Fraction(10, 3)}
    said = " ".join(speed.sentences(300, 30, 1))
    # The processor performance equation (Hennessy and Patterson, from memory): 30 x 4 x 0.5 ns.
    assert "120 ticks, and 60 ns" in said and "2.5" in said and "never 5 times" in said


@pytest.mark.parametrize(
    ("each", "instructions", "said"),
    [
        ("1", 1, "1 instruction of 1 tick is 1 tick, and 500 ps."),
        ("1", 30, "30 instructions of 1 tick each are 30 ticks, and 15 ns."),
        ("1.5", 4, "4 instructions of 1.5 ticks each are 6 ticks, and 3 ns."),
    ],
)
def test_one_tick_is_spoken_of_as_one(each: str, instructions: int, said: str) -> None:
    speed, _ = read_speed(f"clock: 2 GHz\nticks per instruction: {each}", 1)
    assert speed and said in speed.sentences(300, instructions, 1)


@pytest.mark.parametrize(
    "line", ["cores: 4, 2", "cores: 1,2,3,4,5,6,7", "parallel: x", "ticks per instruction: 0"]
)
def test_a_slip_in_a_speed_is_told(line: str) -> None:
    speed, (problem,) = read_speed(f"clock: 2 GHz\n{line}", 1)
    assert speed and problem.line == 2


LESSON = """---
title: Faster
machine: 16-bit
cache: 2 lines of 4 words
memory takes: 7 ticks
---

# With a cache

```program
again:  LOAD  here
        HALT
here:   7
```

# With another
cache: 8 lines of 1 word

Notes.

# With none
cache: none

Notes.

# In a pipeline

```pipeline
3 stages
```

```cues
start: Empty.
tick 2: Two are under way.
execute of LOAD: The LOAD is executed.
end: Done.
```
"""


def test_header_and_scene_say_which_cache_there_is() -> None:
    lesson = read_lesson("faster", LESSON)
    assert lesson.problems == () and lesson.watched
    shapes = [each.cache for each in lesson.scenes]
    assert shapes == [CacheShape(2, 4, 1, 7), CacheShape(8, 1, 1, 7), None, None]


def test_how_slow_memory_is_counts_where_only_a_scene_has_a_cache() -> None:
    lesson = read_lesson("faster", LESSON.replace("cache: 2 lines of 4 words\n", "", 1))
    assert lesson.problems == ()
    assert [each.cache for each in lesson.scenes] == [None, CacheShape(8, 1, 1, 7), None, None]


def test_the_places_of_a_pipeline_are_ticks() -> None:
    scene = read_lesson("faster", LESSON).scenes[3]
    said = {step: cue.text for step in range(5) if (cue := scene.cue_sheet.at(step))}
    assert said == {0: "start", 2: "tick 2", 3: "execute of LOAD", scene.paced.last_step: "end"}
    assert scene.paced.last_step == 4  # k + n - 1, with 3 stages and 2 instructions


def test_a_lesson_without_any_of_it_is_watched_by_nothing() -> None:
    plain = read_lesson("plain", LESSON.split("# With another")[0].replace("cache:", "age:"))
    assert not plain.watched and plain.scenes[0].cache is None
    assert plain.scenes[0].paced is plain.scenes[0].run


@pytest.mark.parametrize(
    ("line", "what"),
    [
        ("cache: 3 lines of 4 words", "cannot have 3 lines"),
        ("memory takes: ages", "not a time"),
        ("cach: 4 lines of 4 words", "no field called 'cach'"),
    ],
)
def test_a_slip_in_the_header_is_told(line: str, what: str) -> None:
    lesson = read_lesson("slip", LESSON.replace("cache: 2 lines of 4 words", line, 1))
    assert any(what in each.what for each in lesson.problems)


SHARES = ["2 %", "33 %", "50 %", "66.7 %", "80 %", "90 %", "95 %", "99.7 %", "99.999 %"]


@pytest.mark.parametrize("share", SHARES)
def test_what_is_never_reached_is_never_reached(share: str) -> None:
    """Amdahl's law with a billion cores, and with ever more: the number that is told is not less
    than what that comes near to, and not a hundredth more."""
    found, problems = read_speed(f"clock: 1 GHz\ncores: 1, 4\nparallel: {share}", 1)
    assert found and not problems
    said = found.sentences(0, 0, 1)[-1]
    told = re.search(r"With ever more cores it is never ([\d,.]+) times\.$", said)
    assert told, said
    number, part = Fraction(told[1].replace(",", "")), Fraction(share.split()[0]) / 100
    end = 1 / (1 - part)
    assert 1 / ((1 - part) + part / 10**9) < end <= number < end * Fraction(101, 100)


def test_where_nothing_can_be_shared_it_is_always_as_fast_as_one() -> None:
    found, _ = read_speed("clock: 1 GHz\ncores: 1, 2, 4\nparallel: 0 %", 1)
    assert found and [gain for _, gain in found.gains] == [1, 1, 1]
    told = " ".join(found.sentences(0, 0, 1))
    assert "2 and 4 cores are just as fast as one." in told and "never" not in told


@pytest.mark.parametrize(
    ("block", "told"),
    [
        ("```pipeline\n3 stages\n```", True),
        ("```compare\na: clock 1 GHz\nb: clock 1 GHz, pipeline 3 stages\n```", True),
        ("```compare\na: clock 1 GHz\nb: clock 1 GHz, 3 stages one after another\n```", True),
        ("```compare\na: clock 1 GHz\nb: clock 2 GHz\n```", False),
    ],
)
def test_requests_do_not_break_into_a_pipeline_for_nothing(block: str, told: bool) -> None:
    """Keeping a word on the stack and going on elsewhere takes ticks, which no account here has."""
    text = BELL + "\n```interrupts\nin instruction 4: 5\n```\n\n# Faster\n\n" + block + "\n"
    faults = [each.what for each in read_lesson("bell", text).faults]
    assert ["Requests break into this run" in each for each in faults] == [True] * told


@pytest.mark.parametrize(
    ("block", "has"),
    [
        ("```pipeline\n3 stages\n```", "The run has 4 ticks"),  # k + n - 1, as above
        ("```compare\na: clock 1 GHz\nb: clock 2 GHz\n```", "The run has 2 presses"),
        ("", "The run has 14 steps"),  # LOAD takes 8 steps here, HALT 6
    ],
)
def test_where_a_place_never_comes_the_run_is_counted_as_its_places_are(
    block: str, has: str
) -> None:
    text = LESSON.split("# With another")[0].replace("cache: 2 lines of 4 words\n", "")
    lesson = read_lesson("faster", f"{text}# Again\n\n{block}\n\n```cues\nstep 40: No.\n```\n")
    (problem,) = lesson.problems
    assert problem.mend.startswith(has)


@pytest.mark.parametrize(
    ("program", "why"),
    [
        ("INPUT\nHALT", "finishes no instruction, so there is nothing to compare"),
        ("0xFFFF", "finishes no instruction, so there is nothing to compare"),
        ("on: ADD #1\nJUMP on", "is too long to be compared on machines"),
    ],
)
def test_what_cannot_be_compared_is_told_and_asked_nothing(program: str, why: str) -> None:
    """In stages a run that finishes no instruction takes no time, and no machine is faster."""
    text = f"---\ntitle: A\nmachine: 16-bit\n---\n# One\n```program\n{program}\n```\n```compare\n"
    text += "a: 3 stages one after another\nb: pipeline 3 stages, two memories\n```\n"
    for ask in ("how many times faster", "the next address"):
        text += f"```question\nbefore end: {ask}?\nask: {ask}\n```\n"
    lesson = read_lesson("race", text)
    (scene,) = lesson.scenes
    assert lesson.can_be_taught and scene.results == () and scene.questions == ()
    (told,) = (each for each in lesson.problems if "program of 'One' " + why in each.what)
    assert told.warning and told.mend
    asked = [each.what for each in lesson.problems if each.line > told.line + 9]
    assert asked == [
        f"The program {why}.",
        "Here the steps are not those of the machine, so this cannot be asked.",
    ]


@pytest.mark.parametrize("again", ["clock 3 GHz", "CLOCK 2 GHz", "cores 4, cores 2"])
def test_a_machine_that_says_something_twice_is_told(again: str) -> None:
    _, (fault,) = read_compare(f"a: clock 2 GHz, {again}\nb: clock 1 GHz", 1)
    assert "twice" in fault.what and not fault.warning and fault.line == 1


def test_a_clock_that_hardly_ticks_is_told() -> None:
    made, (warning,) = read_compare("a: clock 2 mHz\nb: clock 1 Hz", 1)
    assert made and warning.warning and (warning.line, warning.column) == (1, 4)
    assert "less than once a second" in warning.what and "MHz" in warning.mend
