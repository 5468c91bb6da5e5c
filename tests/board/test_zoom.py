"""Scale scenes on the board: true proportions, a true scale bar, the same keys."""

from __future__ import annotations

import re
from fractions import Fraction
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from app import create_app
from app.board.zoom import make_zoom, shape_of
from app.lesson.blocks.scale import Scale, read_scale

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
    kinds = [shape_of(name) for name in ("a little fingernail", "two hairs", "a pea")]
    assert kinds == ["nail", "hair", "disc"]
    # A gate is one part of a transistor, and the width that is told is its own.
    kinds = [shape_of(name) for name in ("a transistor gate of 2001", "a transistor")]
    assert kinds == ["gate", "transistor"]


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
