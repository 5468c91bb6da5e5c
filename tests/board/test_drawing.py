"""The drawing, as geometry: every value has a way, and no line runs where it should not."""

from __future__ import annotations

from itertools import combinations, groupby, pairwise

import pytest

from app.board.drawing import DASH, Box, Drawing, Edge, Form, Point, drawing, route_name
from app.machine.growing import PARTS, grown
from app.machine.machine import MACHINES, Machine
from app.machine.transfers import Carrier, Leg, Place
from app.paths import resource
from tests.machine.grown import GROWN

# Areas that hold stations; everything else in the drawing is solid.
# Boxes that hold others, and those that a scene without a machine shows in its place.
PANELS = ("processor", "store", "memory", "zoom", "speed")
INSIDE = {"processor": ("store", "CU", "ALU")}


# The machines that ship, those with one part more and with all, and one with a register of its own.
DRAWN = (
    MACHINES
    | {"grown": GROWN}
    | {part: grown(frozenset({part})) for part in PARTS}
    | {"all parts": grown(frozenset(PARTS))}
)


# With all registers, and for views that do not show those of the buses.
WHOLE, PORTS = "whole", "ports"


@pytest.fixture(
    params=[(form, name, how) for form in Form for name in DRAWN for how in (WHOLE, PORTS)],
    ids="-".join,
)
def drawn(request: pytest.FixtureRequest) -> Drawing:
    form, name, how = request.param
    return drawing(form, DRAWN[name], how == PORTS)


def legs(machine: Machine) -> set[Leg]:
    """Every leg of every transfer of every instruction, its jump taken or not."""
    return {
        leg
        for each in machine.transfers
        for taken in (True, False)
        for beat in each.beats(taken)
        for leg in beat
    }


def solid(drawn: Drawing) -> dict[str, Box]:
    return {name: box for name, box in drawn.boxes.items() if name not in PANELS}


def box_of(drawn: Drawing, place: str, carrier: Carrier, slot: int) -> Box:
    """Where the eye expects a leg to start or end."""
    by_word = place is Place.MEMORY and carrier is Carrier.DATA
    return drawn.boxes[f"slot{slot}" if by_word else str(place)]


def within(box: Box, point: Point, margin: float = 0.5) -> bool:
    x, y = point
    return (
        box.left - margin <= x <= box.right + margin
        and box.top - margin <= y <= box.bottom + margin
    )


def crosses(box: Box, start: Point, end: Point) -> bool:
    """Whether an upright or level line goes through the inside of a box."""
    (left, right), (top, bottom) = sorted((start[0], end[0])), sorted((start[1], end[1]))
    return (
        left < box.right - 1
        and right > box.left + 1
        and top < box.bottom - 1
        and bottom > box.top + 1
    )


def test_every_leg_has_a_route_between_its_stations(drawn: Drawing) -> None:
    routes = {each.name: each for each in drawn.routes()}
    for leg in legs(drawn.machine):
        for slot in range(drawn.slots):
            route = routes[route_name(leg, slot)]
            assert route.carrier is leg.carrier
            assert within(box_of(drawn, leg.source, leg.carrier, slot), route.points[0]), leg
            assert within(box_of(drawn, leg.target, leg.carrier, slot), route.points[-1]), leg


def test_routes_run_only_along_drawn_edges(drawn: Drawing) -> None:
    lines = {
        frozenset((drawn.nodes[edge.start], drawn.nodes[edge.end])): edge.carrier
        for edge in drawn.edges
        if not edge.instead
    }
    for route in drawn.routes():
        for pair in pairwise(route.points):
            assert lines.get(frozenset(pair)) is route.carrier, route.name


def test_routes_do_not_turn_back(drawn: Drawing) -> None:
    for route in drawn.routes():
        points = [point for point, _ in groupby(route.points)]
        assert len(set(points)) == len(points), route.name


def test_what_counts_goes_round_its_loop(drawn: Drawing) -> None:
    counted = {"PC": "plus one"} | ({"SP": "count SP"} if "SP" in drawn.machine.register else {})
    routes = {each.name: each for each in drawn.routes()}
    assert {name for name in routes if len(set(name.split("-"))) == 1} == {
        f"{name}-{name}" for name in counted
    }
    for name, label_name in counted.items():
        counter, label = drawn.boxes[name], drawn.boxes[label_name]
        west = min(x for x, _ in routes[f"{name}-{name}"].points)
        assert west < label.left < label.right < counter.left + 0.01


def test_the_adder_of_addresses_takes_its_two_values_on_two_ways(drawn: Drawing) -> None:
    """On one line they would cover each other."""
    routes = {each.name: each.points for each in drawn.routes()}
    assert ("CU-adder" in routes) == drawn.machine.has_adder == ("adder" in drawn.boxes)
    held = [name for name in ("X-adder", "SP-adder") if name in routes]
    assert bool(held) == drawn.machine.has_adder
    for name in held:
        assert not set(routes["CU-adder"]) & set(routes[name])


def test_the_carry_stands_beside_the_status(drawn: Drawing) -> None:
    if "carry" in drawn.machine.register:
        status, carry = drawn.boxes["status"], drawn.boxes["carry"]
        assert status.right < carry.left < status.right + status.height
        assert (status.top, status.bottom) == (carry.top, carry.bottom)


def test_lines_are_upright_or_level(drawn: Drawing) -> None:
    for edge in drawn.edges:
        (x1, y1), (x2, y2) = drawn.nodes[edge.start], drawn.nodes[edge.end]
        assert abs(x1 - x2) < 0.01 or abs(y1 - y2) < 0.01, edge


def test_no_two_stations_overlap(drawn: Drawing) -> None:
    for (first, a), (second, b) in combinations(solid(drawn).items(), 2):
        apart = (
            a.right <= b.left + 0.01
            or b.right <= a.left + 0.01
            or a.bottom <= b.top + 0.01
            or b.bottom <= a.top + 0.01
        )
        assert apart, f"{first} and {second}"


def test_everything_is_on_the_drawing_and_in_its_panel(drawn: Drawing) -> None:
    whole = Box(0, 0, drawn.width, drawn.height)
    inside = INSIDE | {
        "store": tuple(each.tag for each in drawn.machine.registers),
        "memory": tuple(f"slot{slot}" for slot in range(drawn.slots)),
    }
    pairs = [(whole, box, name) for name, box in drawn.boxes.items()]
    pairs += [(drawn.boxes[a], drawn.boxes[b], b) for a, names in inside.items() for b in names]
    for outer, box, name in pairs:
        assert outer.left <= box.left < box.right <= outer.right, name
        assert outer.top <= box.top < box.bottom <= outer.bottom, name
    for name, point in drawn.nodes.items():
        assert within(whole, point), name


def test_no_line_passes_through_a_box_of_others(drawn: Drawing) -> None:
    def belongs(edge: Edge, name: str) -> bool:
        stations = {each.split(".")[0].replace("memory", "slot") for each in (edge.start, edge.end)}
        return name in stations

    for edge in drawn.edges:
        for name, box in solid(drawn).items():
            if not belongs(edge, name):
                through = crosses(box, drawn.nodes[edge.start], drawn.nodes[edge.end])
                assert not through, f"{edge.start} to {edge.end} goes through {name}"


def test_lines_of_two_kinds_do_not_lie_on_one_another(drawn: Drawing) -> None:
    """They may cross; where one covered the other, nobody could tell which it is."""
    for a, b in combinations(drawn.edges, 2):
        if a.carrier is b.carrier or a.instead or b.instead:
            continue
        for axis in (0, 1):
            ends = [sorted(drawn.nodes[name][axis] for name in (e.start, e.end)) for e in (a, b)]
            levels = {
                round(drawn.nodes[name][1 - axis], 1) for name in (a.start, a.end, b.start, b.end)
            }
            overlap = min(ends[0][1], ends[1][1]) - max(ends[0][0], ends[1][0])
            assert len(levels) > 1 or overlap <= 0.01, f"{a} and {b}"


def test_memory_words_are_in_the_order_of_their_addresses(drawn: Drawing) -> None:
    tops = [drawn.boxes[f"slot{slot}"].top for slot in range(drawn.slots)]
    assert tops == sorted(set(tops))


def test_a_leg_that_no_line_serves_is_an_error(drawn: Drawing) -> None:
    with pytest.raises(LookupError, match="no address line"):
        drawn.route("input", "output", Carrier.ADDRESS)


def test_words_are_large_enough_for_the_back_row() -> None:
    """AVIXA V202.01:2016: at 6 image heights a line needs 3 % of the image's height."""
    for form in (Form.WIDE, Form.SQUARE):
        for format in DRAWN.values():
            drawn = drawing(form, format)
            lines = 1 if drawn.slots == format.memory_words else 2
            for slot in range(drawn.slots):
                assert drawn.boxes[f"slot{slot}"].height / lines >= 0.03 * drawn.height
            assert drawn.boxes["caption"].height >= 3 * 0.04 * drawn.height


def test_a_dashed_bus_reaches_both_of_its_ends(drawn: Drawing) -> None:
    dash, gap = DASH
    css = (resource("static") / "css" / "board.css").read_text(encoding="utf-8")
    assert f"stroke-dasharray: {dash} {gap};" in css
    for edge in drawn.edges:
        assert (drawn.dashed(edge) - dash) % (dash + gap) == 0
