"""Scale scenes on the board: true proportions, a true scale bar, the same keys."""

from __future__ import annotations

import re
import threading
from collections.abc import Callable
from fractions import Fraction
from itertools import combinations, pairwise
from math import log10
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from app import create_app
from app.board.pictures import die
from app.board.zoom import MOST_BARS, _bars, make_zoom, shape_of
from app.classroom.pace import REST_SECONDS
from app.classroom.session import Session
from app.lesson.blocks.scale import Scale, read_scale
from app.lesson.file.reader import read_lesson
from tests.showing import show_with

# Common practice, no source: a die is about as wide as a little fingernail, and in about 1989 the
# gate of a transistor was about a micrometre long.
BLOCK = """a little fingernail: 10 mm
a processor die: 9 mm
a transistor gate of about 1989: 1 µm
a tenth of such a gate: 100 nm
"""
LENGTHS = [Fraction(1, 100), Fraction(9, 1000), Fraction(1, 10**6), Fraction(1, 10**7)]
LESSON = f"""---
title: How small
machine: 8-bit
---

# Smaller and smaller

```scale
{BLOCK}```

# And how fast

```program
LOAD #1
HALT
```

```speed
clock: 3 GHz
```
"""


@pytest.fixture
def scale() -> Scale:
    made, problems = read_scale(BLOCK, 1)
    assert made and not problems
    return made


@pytest.mark.parametrize("step", range(4))
def test_every_station_has_its_true_share_of_the_view(scale: Scale, step: int) -> None:
    zoom = make_zoom(scale, step)
    assert zoom.station.text == ("10 mm", "9 mm", "1 µm", "100 nm")[step]
    for shown, length in zip(zoom.stations, LENGTHS, strict=True):
        assert shown.size / 100 == pytest.approx(float(length) / zoom.view)


@pytest.mark.parametrize("step", range(4))
def test_the_bar_reads_a_round_length_and_is_that_long(scale: Scale, step: int) -> None:
    zoom = make_zoom(scale, step)
    (bar,) = [each for each in zoom.bars if each.shown]
    digits, unit = bar.text.split(" ")
    # 1, 2 or 5 times a power of ten, and the prefixes of the SI Brochure (9th edition, table 7).
    assert digits.rstrip("0") in ("1", "2", "5")
    metres = Fraction(digits) * {"mm": Fraction(1, 1000), "µm": Fraction(1, 10**6)}.get(
        unit, Fraction(1, 10**9)
    )
    assert unit in ("mm", "µm", "nm")
    assert bar.length == pytest.approx(float(metres))
    assert bar.size / 100 == pytest.approx(float(metres) / zoom.view)
    assert 10 < bar.size <= 100 / 3 + 0.001


def test_on_the_way_between_two_views_there_is_always_a_bar(scale: Scale) -> None:
    """From 9 mm to a micrometre: every bar of the series 1, 2, 5 that the zoom passes."""
    zoom = make_zoom(scale, 2)
    assert zoom.view_before / zoom.view == pytest.approx(9000)
    texts = [each.text for each in zoom.bars]
    between = ["500 nm", "1 µm", "2 µm", "5 µm", "10 µm", "20 µm", "50 µm", "100 µm", "200 µm"]
    assert texts == [*between, "500 µm", "1 mm", "2 mm", "5 mm"]


def test_names_choose_their_drawing() -> None:
    names = {
        "a little fingernail": "nail",
        "two hairs": "hair",
        "a pea": "disc",
        "a small processor's die": "chip",
        "a metal track on a die": "track",
        "a full stop in a book": "stop",
        "a mid-1990s transistor": "transistor",
        # A gate is one part of a transistor, and the width that is told is its own.
        "a transistor gate of 2001": "gate",
        "two microchips": "chip",
        # What only has the letters of another word in it is none.
        "a chair": "disc",
        "a garden snail": "disc",
        "a wine cellar": "disc",
    }
    assert {name: shape_of(name) for name in names} == names


@pytest.mark.parametrize("step", range(4))
def test_a_station_that_is_only_a_little_smaller_does_not_cover_the_present_one(
    scale: Scale, step: int
) -> None:
    zoom = make_zoom(scale, step)
    shown = {each.text for each in zoom.stations if each.in_sight}
    # A die of 9 mm on a nail of 10 mm would hide it; the nail behind the die is no trouble.
    assert [zoom.station.text in shown, "9 mm" in shown] == [True, step == 1]
    assert ("10 mm" in shown) == (step < 2)


@pytest.mark.parametrize("step", range(4))
def test_the_stations_are_named_beside_the_picture(scale: Scale, step: int) -> None:
    ladder = make_zoom(scale, step).ladder
    assert [each.passed for each in ladder] == [at < step for at in range(4)]
    assert [each.present for each in ladder].index(True) == step


def test_of_many_stations_the_nearest_are_named() -> None:
    lines = "".join(f"a thing {at}: {100 - at} m\n" for at in range(20))
    many, problems = read_scale(lines, 1)
    assert many and not problems
    for step in range(20):
        zoom = make_zoom(many, step)
        assert len(zoom.ladder) == 7 and zoom.station in zoom.ladder


def test_the_parts_of_a_die_keep_to_their_places() -> None:
    plan = die()
    assert [zone.name for zone in plan.zones] == ["memory", "control unit", "registers", "ALU"]
    for zone in plan.zones:
        for each in zone.blocks:
            assert zone.x <= each.x + 1e-9 and each.x + each.width <= zone.x + zone.width + 1e-9
            assert zone.y <= each.y + 1e-9 and each.y + each.height <= zone.y + zone.height + 1e-9
    for a, b in combinations(plan.zones, 2):
        apart = (
            a.x + a.width <= b.x
            or b.x + b.width <= a.x
            or a.y + a.height <= b.y
            or b.y + b.height <= a.y
        )
        assert apart, (a.name, b.name)


@pytest.fixture
def board(tmp_path: Path) -> tuple[FlaskClient, str]:
    (tmp_path / "small.md").write_text(LESSON, encoding="utf-8")
    client = create_app(tmp_path).test_client()
    return client, client.post("/lessons/small/teach").location


def test_the_step_keys_go_through_the_stations(board: tuple[FlaskClient, str]) -> None:
    client, address = board
    names = []
    for _ in range(5):
        page = client.get(address).text
        found = re.search(r'class="station-name">([^<]*)<', page)
        assert found
        names.append(found[1])
        client.post(f"{address}/forward")
    # The last key press finds no further station.
    assert names[:4] == [line.split(":")[0] for line in BLOCK.splitlines()]
    assert names[4] == names[3]
    client.post(f"{address}/back")
    assert "a transistor gate of about 1989" in client.get(address).text


def test_the_sentence_compares_and_explains_the_unit(board: tuple[FlaskClient, str]) -> None:
    client, address = board
    client.post(f"{address}/step", data={"step": "2"})
    page = client.get(address).text
    assert "9,000 times narrower than a processor die" in page
    assert "10,000 times narrower than a little fingernail" in page
    # A micrometre is a millionth of a metre and a thousandth of a millimetre: SI Brochure.
    assert "A micrometre is a millionth of a metre and a thousandth of a millimetre." in page


def test_how_fast_is_told_at_the_start_and_at_the_end(board: tuple[FlaskClient, str]) -> None:
    client, address = board
    client.post(f"{address}/scene", data={"scene": "2"})
    # Two instructions of six steps, see the cycle in the textbooks: fetch 4, decode 1, execute 1.
    # A number stays on one line with what it counts.
    told = "This program takes 12\N{NO-BREAK SPACE}steps for 2\N{NO-BREAK SPACE}instructions"
    assert told in client.get(address).text
    client.post(f"{address}/forward")
    page = client.get(address).text
    assert told not in page and "Main memory" in page
    client.post(f"{address}/step", data={"step": "12"})
    assert told in client.get(address).text


def test_whole_phases_are_counted_as_presses(board: tuple[FlaskClient, str]) -> None:
    """What is said to be pressed is pressed: the presses are made and counted."""
    client, address = board
    client.post(f"{address}/depth")
    client.post(f"{address}/scene", data={"scene": "2"})
    found = re.search(r"12\N{NO-BREAK SPACE}steps \((\d+) presses here\)", client.get(address).text)
    assert found
    pressed = 0
    while pressed == 0 or found[0] not in client.get(address).text:  # told again at the end
        client.post(f"{address}/forward")
        pressed += 1
        assert pressed <= 12
    assert pressed == int(found[1])


def test_the_page_is_told_how_long_a_zoom_takes(scale: Scale) -> None:
    """1.1 s a power of ten, and at least 0.6 of that, as play waits for it: a choice of ours."""
    zooms = [make_zoom(scale, step) for step in range(4)]
    assert [each.milliseconds for each in zooms] == [0, 660, 4350, 1100]


@pytest.mark.parametrize("speed", [1.0, 4.0])
def test_play_waits_until_the_zoom_has_come_to_its_end(
    monkeypatch: pytest.MonkeyPatch, speed: float
) -> None:
    """The page zooms for 1.1 s a power of ten, and at least for 0.6 of that: the eye needs it."""
    set_for: list[float] = []
    ticks: list[Callable[[], None]] = []

    class Timer:
        daemon = False

        def __init__(self, seconds: float, call: Callable[[int], None], args: tuple[int]) -> None:
            set_for.append(seconds)
            ticks.append(lambda: call(*args))

        def start(self) -> None: ...
        def cancel(self) -> None: ...

    monkeypatch.setattr(threading, "Timer", Timer)
    session = Session("name", read_lesson("small", LESSON))
    show_with(session, speed=speed)
    session.play()
    while session.view().step < 3:
        ticks[-1]()
    moving = [1.1 * max(log10(one / other), 0.6) / speed for one, other in pairwise(LENGTHS)]
    assert len(set_for) == len(moving) == 3
    for waits, moves in zip(set_for, moving, strict=True):
        # And a while to look at the station.
        assert waits >= moves + REST_SECONDS / speed


def test_a_picture_is_drawn_once_for_all_frames(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each of thirty stations that are dies was drawn anew in each frame: seconds for 5 KB."""
    drawn = []
    monkeypatch.setattr("app.board.rendered.die", lambda: drawn.append(1) or die())
    stations = "".join(f"die {at} of a processor: {40 - at} mm\n" for at in range(30))
    (tmp_path / "dies.md").write_text(f"---\ntitle: Dies\n---\n# Dies\n```scale\n{stations}```\n")
    client = create_app(tmp_path).test_client()
    board = client.post("/lessons/dies/teach").headers["Location"]
    for _ in range(3):
        page = client.get(board).get_data(as_text=True)
        assert page.count('class="pad"') == 30 * len(die().pads)
        client.post(f"{board}/forward")
    assert len(drawn) == 1


@pytest.mark.parametrize("way", [1, 7, 500, 3 * 10**9, 10**25, 7 * 10**70])
@pytest.mark.parametrize("nearest", [Fraction(1, 10**30), Fraction(1, 300), Fraction(47)])
def test_the_bars_of_a_way(nearest: Fraction, way: int) -> None:
    """Each length of 1, 2, 5, 10 ... between the bars of both views, whichever of them comes first;
    on a very long way, where hundreds were drawn in each frame, each power of ten."""
    far = nearest * way
    series = [sign * Fraction(10) ** power for power in range(-50, 80) for sign in (1, 2, 5)]
    ends = [max(each for each in series if each <= view / 3) for view in (nearest, far)]
    between = [each for each in series if ends[0] <= each <= ends[1]]
    if len(between) > MOST_BARS:
        powers = [
            each for each in between if str(each.numerator * each.denominator).strip("0") == "1"
        ]
        between = sorted({*powers, *ends})
    for view, before in ((nearest, far), (far, nearest)):
        bars = _bars(view, before)
        assert [each.length for each in bars] == [float(each) for each in between]
        assert [each.length for each in bars if each.shown] == [float(ends[view == far])]
        assert len(bars) <= MOST_BARS + 30
