"""The board is laid out so that a class can read it: nothing overlaps, nothing is too small.

The sizes come from AVIXA V202.01:2016 (DISCAS), see tests/web/test_palette.py: at six image
heights a line of text is at least 3 % of the screen's height; the caption is held to 4 %.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page

from app.lesson.file.reader import read_lesson
from tests.browser.board import SHOWN_STEP, Board
from tests.browser.conftest import teach
from tests.browser.layout import MEASURE
from tests.browser.reach import spaced
from tests.browser.test_everyone import LOST
from tests.server import Server

PROJECTORS = [(1920, 1080), (1366, 768), (1280, 720), (1024, 768)]
PHONE = (390, 844)
DEPTHS = ("transfers", "phases")

# The longest instruction that a lesson is likely to have, numbers of every length, an input that
# is read and outputs that pile up.
SMALL = """---
title: The cable car's counter
machine: 8-bit
---

# Up and down the mountain

```program
        INPUT
again:  OUTPUT
        SUBTRACT step
        STORE  left
        COMPARE #0
        JUMP again IF MORE
        LOAD  left
        OUTPUT
        HALT
step:   3
left:   -128
```

```inputs
4, -100, 127
```

```cues
fetch 2: The doors are shut and the car is on its way, so the next instruction is fetched now.
```
"""
LARGE = SMALL.replace("8-bit", "16-bit").replace("-128", "-32768").replace("127", "32767")

# As long as a cue may be, with a task at its side.
SAID = ("The number goes along the data bus into the processor. " * 11)[:600].strip()
LONG_CUE = f"""---
title: Much to say
machine: 8-bit
---

# All of it

```program
        HALT
```

```cues
start: {SAID}
```

```task
goal: {"Write a program that sends out the larger of two numbers. " * 3}
gives nothing
```
"""

# Names as long as a pupil is likely to choose.
LONG = (
    SMALL.replace("again", "once_more")
    .replace("step", "passenger_no")
    .replace("left", "still_to_go")
)


# Inputs and outputs that pile up, labels on instructions, a watch list, a task, and a sum that
# does not fit; then the scenes that take the machine's place.
FULL = """---
title: The orchard's crates
machine: 16-bit
---

# A crate after another

```program
weigh:  INPUT
        OUTPUT
        ADD   total
        STORE total
        COMPARE #0
        JUMP weigh IF MORE
carry:  JUMP weigh IF LESS
        HALT
total:  30000
crates: 12
limit:  -32768
```

```inputs
30000, -32768, 4, 5, 6, 7, 8, 9, 10, 11, 12, 0
```

```watch
crates, total, weigh
```

```task
goal: Read the weight of every crate until a nought comes, and output the sum of all of them.
inputs 4, 0 gives 4
```

# From large to small

```scale
a little fingernail: 10 mm
a small processor's die: 5 mm
a full stop in a book: 0.5 mm
a hair: 80 µm
a metal track on a die: 2 µm
a transistor gate of about 1989: 1 µm
```

# How fast

```program
LOAD #1
OUTPUT
HALT
```

```speed
clock: 3 GHz
```
"""


WHOLE = FULL.replace("16-bit", "8-bit").replace("30000", "120").replace("-32768", "-128")


# A machine with all that it can grow by, and the longest that its instructions and results come to.
GROWN = """---
title: The observatory's dials
machine: 16-bit
with: bit operations, index register, stack
---

# From one dial to the next

```program
        LOAD  where_it_is INDIRECT
        SUBTRACT where_it_is INDIRECT
        LOAD  table INDEXED
        STORE kept FROM INDEX
        OR    pattern
        NOT
        ROTATE #15 RIGHT
        SHIFT #12 LEFT
        SHIFT #3 RIGHT SIGNED
        PUSH
        CALL  sub_routine
        LOAD  large
        ADD   large
        HALT
sub_routine: LOAD #1 FROM STACK
        STORE #1 TO STACK
        RETURN
where_it_is: 18
table:  -32768
kept:   0
pattern: 0b1010111100001010
large:  30000
```
"""
# What is looked at: what an instruction does last, or as it is decoded.
GROWN_AT = (
    "opcode, operand <- CIR of SUBTRACT INDIRECT",
    "MAR <- operand + X of LOAD INDEXED",
    "ACC, status <- ACC OR MDR of OR",
    "ACC, carry, status <- ACC rotated right by operand of ROTATE RIGHT",
    "ACC, carry, status <- ACC shifted left by operand of SHIFT LEFT",
    "memory[MAR] <- MDR of CALL",
    "MAR <- SP + operand of STORE TO STACK",
    "SP <- SP + 1 of RETURN",
    "ACC, carry, status <- ACC + MDR of ADD",
)


@pytest.fixture(scope="module")
def layout_server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    folder: Path = tmp_path_factory.mktemp("layout")
    (folder / "small.md").write_text(SMALL, encoding="utf-8")
    (folder / "large.md").write_text(LARGE, encoding="utf-8")
    (folder / "long.md").write_text(LONG, encoding="utf-8")
    (folder / "full.md").write_text(FULL, encoding="utf-8")
    (folder / "grown.md").write_text(GROWN, encoding="utf-8")
    (folder / "whole.md").write_text(WHOLE, encoding="utf-8")
    (folder / "much.md").write_text(LONG_CUE, encoding="utf-8")
    with Server(folder) as running:
        yield running


@pytest.fixture
def board(
    layout_server: Server, new_page: Callable[..., Page], request: pytest.FixtureRequest
) -> Board:
    return Board(new_page()).open(teach(layout_server.address, request.param))


def look(board: Board, size: tuple[int, int]) -> dict:
    board.page.set_viewport_size({"width": size[0], "height": size[1]})
    found: dict = board.page.evaluate(MEASURE)
    # An empty page would have no fault.
    assert found["texts"] > (30 if found["rows"] else 5)
    return found


def hold(
    board: Board, where: str, sizes: tuple[tuple[int, int], ...] = (*PROJECTORS, PHONE)
) -> None:
    """At every size nothing overlaps, and on a projector everything can be read."""
    for size in sizes:
        found = look(board, size)
        assert found["faults"] == [], (where, size)
        if size != PHONE:
            assert found["smallest"][1] >= 0.03, (where, size)
            assert found["smallestOfCaption"][1] >= 0.04, (where, size)
            assert not found["scrolls"], (where, size)


def next_base(board: Board) -> None:
    shown = board.page.locator("#frame").get_attribute("class")
    board.press("n")
    board.wait("document.getElementById('frame').className !== value", shown)


@pytest.mark.parametrize("board", ["much"], indirect=True)
def test_of_a_long_cue_nothing_is_cut_off(board: Board) -> None:
    for width, height in PROJECTORS:
        board.page.set_viewport_size({"width": width, "height": height})
        assert board.sentence() == SAID
        top, bottom, *inside = board.page.evaluate(
            """() => {
              const caption = document.querySelector(".caption");
              const { top, bottom } = caption.getBoundingClientRect();
              const all = [...document.querySelectorAll(".caption .words > *")]
                .map((each) => each.getBoundingClientRect());
              return [top, bottom, ...all.flatMap((each) => [each.top, each.bottom])];
            }"""
        )
        assert 0 < top <= min(inside) and max(inside) <= bottom < height, (width, height)


@pytest.mark.parametrize("depth", DEPTHS)
@pytest.mark.parametrize("board", ["small", "large"], indirect=True)
def test_nothing_overlaps_and_nothing_is_too_small(board: Board, depth: str) -> None:
    board.press("m")
    if depth == "phases":
        board.press("d")
        board.wait("document.querySelector('#frame.depth-phases')")
    for _ in range(6):
        for size in (*PROJECTORS, PHONE):
            where = f"{depth}, step {board.step}, {size}"
            found = look(board, size)
            assert found["faults"] == [], where
            if size != PHONE:
                assert found["lines"] > 20, where
                assert found["smallest"][1] >= 0.03, where
                assert found["smallestOfCaption"][1] >= 0.04, where
                assert not found["scrolls"], where
        before = board.step
        board.press(*(["ArrowRight"] * (4 if depth == "transfers" else 2)))
        board.wait_for_step_after(before)


@pytest.mark.parametrize("board", ["small", "large"], indirect=True)
@pytest.mark.parametrize("base", ["binary", "hexadecimal"])
def test_every_base_has_room(board: Board, base: str) -> None:
    board.press("m", "i", "i", "i")
    board.wait_for_step_after(16)
    for _ in range(3):
        if board.page.locator(f"#frame.base-{base}").count():
            break
        shown = board.page.locator("#frame").get_attribute("class")
        board.press("n")
        board.wait("document.getElementById('frame').className !== value", shown)
    for size in (*PROJECTORS, PHONE):
        found = look(board, size)
        assert found["faults"] == [], (base, size)
        if size != PHONE:
            assert found["smallest"][1] >= 0.03, (base, size)


@pytest.mark.parametrize("board", ["long"], indirect=True)
def test_long_names_are_whole(board: Board) -> None:
    board.press("m")
    for base in range(3):
        for size in (*PROJECTORS, PHONE):
            assert look(board, size)["faults"] == [], (base, size)
        shown = board.page.locator("#frame").get_attribute("class")
        board.press("n")
        board.wait("document.getElementById('frame').className !== value", shown)


@pytest.mark.parametrize("depth", DEPTHS)
@pytest.mark.parametrize("board", ["full", "whole"], indirect=True)
def test_all_that_is_shown_has_room(board: Board, depth: str) -> None:
    """At the start with the task, in the middle with a sum that does not fit, at the end; and in
    every base."""
    board.press("m")
    if depth == "phases":
        board.press("d")
        board.wait("document.querySelector('#frame.depth-phases')")
    for presses in (0, 3, 30):
        if presses:
            before = board.step
            board.press(*["ArrowDown"] * presses)
            board.wait(f"{SHOWN_STEP} >= value", before + presses)
        for base in range(3):
            hold(board, f"{depth}, step {board.step}, base {base}")
            next_base(board)


@pytest.mark.parametrize("board", ["grown"], indirect=True)
def test_what_a_grown_machine_shows_has_room(board: Board) -> None:
    lesson = read_lesson("grown", GROWN)
    assert not lesson.problems
    steps = {
        f"{kind.transfer.notation} of {kind.instruction.written}": number
        for number, _, kind, _ in lesson.scenes[0].run.steps()
        if kind.instruction
    }
    steps = {name.replace(" a", "").replace(" #n", ""): number for name, number in steps.items()}
    board.press("m")
    for base in range(3):
        for name in GROWN_AT:
            board.jump(steps[name])
            hold(board, f"{name}, base {base}", ((1366, 768), (1024, 768), PHONE))
        next_base(board)
    # The same when a reader sets the text apart (WCAG 2.2, 1.4.12).
    spaced(board.page)
    board.page.wait_for_selector(".stage.spaced")
    for size in (PROJECTORS[1], PHONE):
        board.page.set_viewport_size({"width": size[0], "height": size[1]})
        assert board.page.evaluate(LOST) == [], size


@pytest.mark.parametrize("board", ["full"], indirect=True)
def test_the_scenes_without_a_machine_have_room(board: Board) -> None:
    board.press("m", "]")
    board.wait("document.querySelector('.zoom')")
    for station in range(6):
        board.wait(f"{SHOWN_STEP} === value", station)
        hold(board, f"station {station}")
        board.press("ArrowRight")
    board.press("]")
    board.wait("document.querySelector('.speed')")
    hold(board, "speed")


# In the page: whether an element lies under another that is over it.
COVERED = """
([under, over]) => {
  const [one, other] = [under, over].map((each) =>
    document.querySelector(each).getBoundingClientRect());
  return one.top < other.bottom && other.top < one.bottom &&
    one.left < other.right && other.left < one.right;
}
"""


@pytest.mark.parametrize("board", ["small"], indirect=True)
@pytest.mark.parametrize("size", PROJECTORS)
def test_controls_and_notices_leave_the_names_in_sight(board: Board, size: tuple[int, int]) -> None:
    board.page.set_viewport_size({"width": size[0], "height": size[1]})
    board.press("m", "Tab")
    board.wait("getComputedStyle(document.getElementById('controls')).opacity === '1'")
    assert not board.page.evaluate(COVERED, [".head h1", "#controls"])
    assert not board.page.evaluate(COVERED, [".head .position", "#controls"])
    board.page.evaluate("document.getElementById('notice').textContent = 'End of the scene.'")
    for under in (".head h1", ".head .scene", "#controls"):
        assert not board.page.evaluate(COVERED, [under, "#notice"]), under


@pytest.mark.parametrize("board", ["small", "large"], indirect=True)
def test_on_a_phone_the_word_that_is_read_is_in_sight(board: Board) -> None:
    width, height = PHONE
    board.page.set_viewport_size({"width": width, "height": height})
    board.press("+", "+", "+")
    seen = set()
    for step in range(1, 25):
        board.step_to("ArrowRight", step)
        board.wait_until_still()
        row = board.page.locator(".row.lit")
        if not row.count():
            continue
        box = row.bounding_box()
        caption = board.page.locator(".caption").bounding_box()
        assert box and caption
        assert box["y"] >= 0 and box["y"] + box["height"] <= caption["y"], step
        seen.add(row.get_attribute("data-address"))
    assert len(seen) > 3
    # And every register keeps its short name, whatever its numbers are written in.
    for _ in range(3):
        assert board.page.evaluate(TAGS) == [], board.page.get_attribute("#frame", "data-base")
        base = board.page.get_attribute("#frame", "data-base")
        board.press("n")
        board.wait("document.getElementById('frame').dataset.base !== value", base)


# Registers whose short name is missing, or does not lie whole in them.
TAGS = """() => [...document.querySelectorAll(".register:not(.at-status)")].filter((each) => {
  const tag = each.querySelector(".tag");
  if (!tag || tag.textContent !== each.dataset.place) return true;
  const [inner, outer] = [tag.getBoundingClientRect(), each.getBoundingClientRect()];
  const line = tag.parentElement.getBoundingClientRect();
  return inner.width < 1 || inner.left < outer.left || inner.right > outer.right
    || inner.top < line.top - 2 || inner.bottom > line.bottom + 2;
}).map((each) => each.dataset.place)"""


@pytest.mark.parametrize("board", ["small"], indirect=True)
def test_the_measure_finds_what_is_wrong(board: Board) -> None:
    """The tests above could not fail if the measure saw nothing."""
    found = look(board, PROJECTORS[0])
    assert found["faults"] == []
    board.page.evaluate(
        """() => {
          const name = document.querySelector(".at-MDR .name");
          name.style.fontSize = "400%";
          document.querySelector(".at-MAR .name").style.lineHeight = "12px";
          document.querySelector(".at-PC .name").style.position = "relative";
          document.querySelector(".at-PC .name").style.left = "60%";
        }"""
    )
    found = look(board, PROJECTORS[0])
    assert any("sticks out" in each for each in found["faults"])
    assert any("overlaps" in each for each in found["faults"])
    assert any("goes through" in each for each in found["faults"])
    assert found["smallest"][1] < 0.03
