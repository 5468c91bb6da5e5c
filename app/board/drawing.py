"""The drawing of the board: where every station stands and which lines join them.

This is the only place that knows. A :class:`Drawing` has boxes (stations and other areas),
nodes, and edges between nodes; the route of a leg is the shortest way along the edges. The
page's style sheet (positions), its SVG (lines) and the movement (routes) are all made from it.

Units: a wide drawing is 1920 by 1080, a square one 1440 by 1080, so that 1080 units are the
height of the screen and 32.4 units are 3 % of it. A tall drawing (a phone) is 390 units wide.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from enum import StrEnum
from functools import cache
from heapq import heappop, heappush
from itertools import pairwise, zip_longest
from math import dist

from app.lesson.blocks.watch import seen_whole
from app.machine.machine import Machine
from app.machine.registers import Holds
from app.machine.transfers import ADDER, Carrier, Leg, Place

Point = tuple[float, float]

# The dashes of the address bus, as in static/css/board.css.
DASH = (26, 12)


class Form(StrEnum):
    """The shape of the screen that a drawing is for."""

    WIDE = "wide"
    SQUARE = "square"
    TALL = "tall"


@dataclass(frozen=True, slots=True)
class Box:
    left: float
    top: float
    width: float
    height: float

    @property
    def right(self) -> float:
        return self.left + self.width

    @property
    def bottom(self) -> float:
        return self.top + self.height

    @property
    def middle(self) -> float:
        return self.top + self.height / 2

    @property
    def centre(self) -> float:
        return self.left + self.width / 2


@dataclass(frozen=True, slots=True)
class Edge:
    """A drawn line between two nodes. It is hidden with any of its ``parts``; one that is drawn
    ``instead`` of a part comes out only where that part is hidden."""

    start: str
    end: str
    carrier: Carrier
    parts: tuple[str, ...]
    instead: str = ""


@dataclass(frozen=True, slots=True)
class Line:
    """What is drawn as one: its ``path`` in SVG, and for dashes the length that they are to see."""

    carrier: Carrier
    parts: tuple[str, ...]
    instead: str
    path: str
    dashed: float


@dataclass(frozen=True, slots=True)
class Route:
    """The way of a leg: its name (``PC-MAR``, ``memory3-MDR``), carrier, and corner points."""

    name: str
    carrier: Carrier
    points: tuple[Point, ...]


@dataclass
class Drawing:
    """One drawing of the board; ``slots`` is how many memory words are in sight.

    Where it is ``at_ports`` the registers of the buses (:data:`PORTS`) are no boxes but the
    points where the buses leave the panel: for views that do not show these registers.
    """

    form: Form
    machine: Machine
    width: float
    height: float
    slots: int
    at_ports: bool = False
    boxes: dict[str, Box] = field(default_factory=dict)
    nodes: dict[str, Point] = field(default_factory=dict)
    edges: list[Edge] = field(default_factory=list)

    @property
    def with_ports(self) -> Drawing:
        """The same for views without the registers of the buses."""
        return drawing(self.form, self.machine, ports=True)

    def join(self, carrier: Carrier, parts: tuple[str, ...], *names: str) -> None:
        """Draw a line through nodes."""
        for start, end in pairwise(names):
            self.edges.append(Edge(start, end, carrier, parts))

    def lines(self) -> list[Line]:
        """The lines to draw: edges that are shown and hidden together are one. On the address bus
        each has its own dashes."""
        together: dict[tuple[object, ...], list[Edge]] = {}
        for at, edge in enumerate(self.edges):
            alone = at if edge.carrier is Carrier.ADDRESS else None
            together.setdefault((edge.carrier, edge.parts, edge.instead, alone), []).append(edge)
        return [
            Line(
                edges[0].carrier,
                edges[0].parts,
                edges[0].instead,
                "".join(map(self._path, edges)),
                self.dashed(edges[0]) if edges[0].carrier is Carrier.ADDRESS else 0,
            )
            for edges in together.values()
        ]

    def _path(self, edge: Edge) -> str:
        (x1, y1), (x2, y2) = self.nodes[edge.start], self.nodes[edge.end]
        return f"M{round(x1, 1):g} {round(y1, 1):g}L{round(x2, 1):g} {round(y2, 1):g}"

    def dashed(self, edge: Edge) -> float:
        """The length of a line as its pattern of dashes is to see it: a number of whole dashes and
        gaps and one dash more, so that a bus reaches both of its ends with a dash."""
        dash, gap = DASH
        length = dist(self.nodes[edge.start], self.nodes[edge.end])
        scale = 0.42 if self.form is Form.TALL else 1
        return max(round((length / scale - dash) / (dash + gap)), 0) * (dash + gap) + dash

    def ports(self, station: str) -> list[str]:
        """The nodes at which lines meet a station: ``PC.right`` for PC."""
        return [name for name in self.nodes if name.split(".")[0] == station]

    def route(self, source: str, target: str, carrier: Carrier) -> tuple[Point, ...]:
        """The shortest way along edges of one carrier from a station to a station.

        Raises LookupError where no line joins them: the drawing is then wrong.
        """
        ends = set(self.ports(target))
        beside: dict[str, list[str]] = {}
        for edge in self.edges:
            if edge.carrier is carrier and not edge.instead:
                beside.setdefault(edge.start, []).append(edge.end)
                beside.setdefault(edge.end, []).append(edge.start)
        waiting = [(0.0, [port]) for port in self.ports(source) if port in beside]
        # Seen from each start by itself: a way from a station to itself must go round.
        seen: set[tuple[str, str]] = set()
        while waiting:
            length, way = heappop(waiting)
            here = way[-1]
            if here in ends and here != way[0]:
                return tuple(self.nodes[name] for name in way)
            if (way[0], here) in seen:
                continue
            seen.add((way[0], here))
            for following in beside[here]:
                if (way[0], following) not in seen:
                    further = length + dist(self.nodes[here], self.nodes[following])
                    heappush(waiting, (further, [*way, following]))
        raise LookupError(f"no {carrier} line joins {source} and {target} in the {self.form} form")

    def routes(self) -> list[Route]:
        """Every route that a leg can take."""
        found: dict[str, Route] = {}
        for leg in _all_legs(self.machine):
            for slot in range(self.slots) if leg.carrier is Carrier.DATA else (0,):
                name = route_name(leg, slot)
                ends = name.split("-")
                found.setdefault(
                    name, Route(name, leg.carrier, self.route(ends[0], ends[1], leg.carrier))
                )
        return list(found.values())


def route_name(leg: Leg, slot: int) -> str:
    """The name of a leg's route. On the data bus memory is the word in a slot of the window;
    an address or a control signal goes to memory as a whole."""

    def end(place: str) -> str:
        by_word = place is Place.MEMORY and leg.carrier is Carrier.DATA
        return f"memory{slot}" if by_word else str(place)

    return f"{end(leg.source)}-{end(leg.target)}"


def _all_legs(machine: Machine) -> list[Leg]:
    return [leg for each in machine.transfers for beat in each.beats() for leg in beat]


# The most letters that a line of text in memory is set for: of more it gets no smaller.
MOST_LETTERS = 44


def slots_in_sight(machine: Machine) -> int:
    """How many words are in sight: all of a small memory, or a window of two-line words."""
    return machine.memory_words if seen_whole(machine) else 8


# Where the registers stand that every machine has: rows of two, left and right of the spine.
_FIRST_ROW = ("PC", "MAR")
_SECOND_ROW = ("CIR", "MDR")
_LAST_ROW = ("ACC", "status")  # beside the ALU

# The registers at the ends of two buses, each with its bus; and the first row without them.
PORTS = (("MAR", Carrier.ADDRESS), ("MDR", Carrier.DATA))
_WITHOUT = ("PC", "CIR")


def _more(machine: Machine, *holds: Holds) -> list[str]:
    """The registers that only some machines have, of those that hold one of these."""
    usual = {*_FIRST_ROW, *_SECOND_ROW, *_LAST_ROW}
    return [each.tag for each in machine.registers if each.tag not in usual and each.holds in holds]


def counters(machine: Machine) -> list[str]:
    """The registers that count by themselves, each with a loop at its side."""
    counting = {each.worker for each in machine.transfers}
    return ["PC", *(each for each in _more(machine, Holds.ADDRESS) if each in counting)]


def marks(machine: Machine) -> list[str]:
    """The single bits, which share the place of the status."""
    return _more(machine, Holds.BIT)


def beside(machine: Machine) -> dict[str, str]:
    """What shares the place of another register, at its right: the single bits that of the status,
    and the switch of the interrupts that of their vector."""
    switches = dict.fromkeys(_more(machine, Holds.SWITCH), "V")
    return dict.fromkeys(marks(machine), "status") | switches


def register_rows(machine: Machine, ports: bool = False) -> tuple[tuple[str, ...], ...]:
    """The registers of a machine by rows, from the top; those that only some machines have stand
    under the program counter: what counts by itself below it, because there its loop has room.
    A place may be empty. Where there are ``ports``, the registers of the buses stand in no row."""
    west = [each for each in counters(machine) if each not in _FIRST_ROW]
    east = [each for each in _more(machine, Holds.WORD, Holds.ADDRESS) if each not in west]
    more = tuple(zip_longest(west, east, fillvalue=""))
    if ports:
        return (_WITHOUT, *more, _LAST_ROW)
    return (_FIRST_ROW, *more, _SECOND_ROW, _LAST_ROW)


@dataclass(frozen=True, slots=True)
class _Sizes:
    """How the heights inside the processor are shared out: the titles of the panels, the control
    unit, a register, the room between two of them and over the last row, and between the units.
    ``floor`` is what input and output take below a square one."""

    title: float
    unit: float
    store_title: float
    register: float
    between: float
    lift: float
    gap: float
    over_alu: float
    floor: float


def _sizes(machine: Machine, wide: bool) -> _Sizes:
    rows = len(register_rows(machine))
    lift = 8 if beside(machine) else 0
    if not is_grown(machine):
        return (
            _Sizes(44, 172, 44, 92, 9, 0, 14, 28, 0)
            if wide
            else _Sizes(44, 146, 44, 84, 7, 0, 10, 28, 110)
        )
    # More registers take some room from everything, so that the ALU keeps enough for bits.
    if is_crowded(machine):
        return (
            _Sizes(44, 148, 46, 56, 9, lift, 12, 24, 0)
            if wide
            else _Sizes(40, 140, 40, 55, 6, lift, 8, 18, 94)
        )
    each = (84 if rows <= 3 else 72) if wide else (80 if rows <= 3 else 71)
    if wide:
        return _Sizes(44, 158, 46, each, 9, lift, 12, 24, 0)
    return _Sizes(40, 140, 40, each, 6, lift, 8, 18, 94)


def is_grown(machine: Machine) -> bool:
    """Whether a machine has registers that not every machine has."""
    return bool(_more(machine, *Holds))


def is_crowded(machine: Machine) -> bool:
    """Whether there are so many registers that each has one line: its tag and its value."""
    return len(register_rows(machine)) > 4


@cache
def drawing(form: Form, machine: Machine, ports: bool = False) -> Drawing:
    """The drawing of a machine on a screen of this form."""
    return _tall(machine, ports) if form is Form.TALL else _across(form, machine, ports)


@cache
def corners(form: Form, machine: Machine, ports: bool = False) -> dict[str, str]:
    """The corners of every route by its name, as text: ``x,y x,y``, in units of the drawing."""
    return {
        route.name: " ".join(f"{round(x, 1):g},{round(y, 1):g}" for x, y in route.points)
        for route in drawing(form, machine, ports).routes()
    }


def _across(form: Form, machine: Machine, ports: bool) -> Drawing:
    """The processor at the left, the buses running across to memory at the right."""
    wide = form is Form.WIDE
    whole_memory = seen_whole(machine)
    made = Drawing(form, machine, 1920 if wide else 1440, 1080, slots_in_sight(machine), ports)
    boxes = made.boxes
    margin, top, bottom = 18, 104, 872
    boxes["header"] = Box(margin + 10, 14, made.width - 2 * margin - 20, 80)
    boxes["caption"] = Box(margin, 884, made.width - 2 * margin, 184)
    # What a scene without a machine shows takes the machine's place.
    boxes["zoom"] = boxes["speed"] = Box(margin, top, made.width - 2 * margin, bottom - top)

    memory_width = (620 if wide else 572) if whole_memory else (490 if wide else 476)
    memory = Box(made.width - margin - memory_width, top, memory_width, bottom - top)
    boxes["memory"] = memory
    # A wide screen has room for input and output beside the processor, a square one below it.
    left = margin + (214 if wide else 0)
    right = memory.left - (226 if wide else 126)
    sizes = _sizes(machine, wide)
    floor = bottom - sizes.floor
    boxes["processor"] = Box(left, top, right - left, floor - top)
    pad, loop, spine = (18, 68, 64) if wide else (8, 61, 20)
    inner = boxes["processor"].width - 2 * pad
    boxes["CU"] = Box(left + pad, top + sizes.title, inner, sizes.unit)
    store_top = boxes["CU"].bottom + sizes.gap
    rows = len(register_rows(machine))
    height = sizes.store_title + rows * sizes.register + (rows - 1) * sizes.between
    height += sizes.lift * len(set(beside(machine).values()))
    boxes["store"] = Box(left + pad, store_top, inner, height + pad / 2)
    _request(made, 424 if wide else 368, sizes.title - 8)
    columns = inner - loop - spine - pad
    # The name of the instruction register is the longest: its column is the wider one. Where the
    # carry stands beside the status, theirs is.
    share = (0.488 if ports else 0.512) if whole_memory else 0.5
    if wide and marks(machine):
        share = 0.47
    west_width = columns * share
    trunk = _registers(
        made,
        left + pad + loop,
        west_width,
        columns - west_width,
        spine,
        store_top + sizes.store_title,
        sizes.register,
        sizes.between,
        sizes.lift,
    )
    _adder(made, trunk, store_top + 3, sizes.store_title - 7, spine / 2 + 26)
    alu_top = boxes["store"].bottom + sizes.over_alu
    # Bits in columns need the whole width; else the ALU ends where the status has its line.
    alu_right = right - pad - 10 if marks(machine) else trunk + 150
    alu_left = left + pad + 26
    over_floor = 12 if wide or not is_grown(machine) else 7
    boxes["ALU"] = Box(alu_left, alu_top, alu_right - alu_left, floor - alu_top - over_floor)
    if wide:
        boxes["input"] = Box(margin, top + 44, 180, 300)
        boxes["output"] = Box(margin, bottom - 344, 180, 300)
    else:
        half = boxes["processor"].width / 2
        boxes["input"] = Box(left, floor + 14, half - 7, bottom - floor - 14)
        boxes["output"] = Box(left + half + 7, floor + 14, half - 7, bottom - floor - 14)
    _words(made, memory.top + (52 if whole_memory else 46), 32, 0 if whole_memory else 128, 37)

    _inside(made, trunk, boxes["store"].left + (14 if wide else 8))
    _buses_across(made)
    _instead(made)
    if wide:
        _outside_beside(made)
        gap = boxes["output"].top - boxes["input"].bottom
        boxes[OUTSIDE_NAME] = Box(margin, boxes["input"].bottom + 4, 180, gap - 8)
    else:
        _outside_below(made)
    return made


def _tall(machine: Machine, ports: bool) -> Drawing:
    """Everything under one another, for a phone: the page scrolls, the caption stays."""
    made = Drawing(Form.TALL, machine, 390, 0, slots_in_sight(machine), ports)
    boxes = made.boxes
    boxes["header"] = Box(10, 6, 370, 60)
    boxes["zoom"] = Box(4, 70, 382, 430)
    boxes["speed"] = Box(4, 70, 382, 560)
    # What a machine has more moves all that is below it down.
    lift = 7 if beside(machine) else 0
    title = 30 if machine.has_adder else 24
    lifts = lift * len(set(beside(machine).values()))
    more = 53 * (len(register_rows(machine)) - 3) + lifts + title - 24
    boxes["processor"] = Box(4, 70, 344, 398 + more)
    boxes["CU"] = Box(10, 96, 332, 90)
    _request(made, 166, 21)
    boxes["store"] = Box(10, 192, 332, 184 + more)
    trunk = _registers(made, 44, 137, 134, 21, 192 + title, 48, 5, lift)
    _adder(made, trunk, 195, 22, 22)
    boxes["ALU"] = Box(30, 388 + more, 304 if marks(machine) else 230, 72)
    boxes["input"] = Box(4, 480 + more, 168, 56)
    boxes["output"] = Box(180, 480 + more, 168, 56)
    whole_memory = seen_whole(machine)
    overview = 0 if whole_memory else 120
    boxes["memory"] = Box(
        4, 632 + more, 382, 30 + made.slots * (26 if whole_memory else 48) + overview + 8
    )
    _words(made, boxes["memory"].top + 30, 18, overview, 22)
    made.height = boxes["memory"].bottom + 10
    _inside(made, trunk, boxes["store"].left + 8)
    _buses_down(made)
    _instead(made)
    _outside_below(made)
    return made


# How wide the box of a single bit is, and that of a switch: its name has room.
_MARK_WIDTH = {Form.WIDE: 112, Form.SQUARE: 98, Form.TALL: 48}
_SWITCH_WIDTH = {Form.WIDE: 190, Form.SQUARE: 180, Form.TALL: 76}


def _registers(
    made: Drawing,
    left: float,
    west: float,
    east: float,
    spine: float,
    top: float,
    height: float,
    between: float,
    lift: float,
) -> float:
    """Two columns of registers with the spine between them; answers where the trunk runs. ``lift``
    is the room more over a row in which two share a place, for the line of the second.

    With ports there is a row less, and its room is for two lines: the address bus above the first
    row, the data bus over the last one.
    """
    columns = ((left, west), (left + west + spine, east))
    room = height + between if made.at_ports else 0
    above, below = room * 0.42, room * 0.58
    level = top + above
    rows = register_rows(made.machine, made.at_ports)
    for row, names in enumerate(rows):
        level += lift if set(names) & set(beside(made.machine).values()) else 0
        for name, (at, width) in zip(names, columns, strict=True):
            if name:
                made.boxes[name] = Box(at, level, width, height)
        level += height + between + (below if row == len(rows) - 2 else 0)
    for second, first in beside(made.machine).items():
        width = (_MARK_WIDTH if second in marks(made.machine) else _SWITCH_WIDTH)[made.form]
        both = made.boxes[first]
        made.boxes[first] = replace(both, width=both.width - width - between)
        made.boxes[second] = replace(both, left=both.right - width, width=width)
    if made.at_ports:
        edge, size = made.boxes["store"].right, between
        over_last = len(rows) - 1
        to_last = top + above + over_last * height + (over_last - 1) * between
        lines = (top + above / 2, to_last + (below + between) / 2)
        for (register, _), line in zip(PORTS, lines, strict=True):
            made.boxes[register] = Box(edge - size, line - size / 2, size, size)
    return left + west + spine / 2


def _request(made: Drawing, width: float, height: float) -> None:
    """Where requests wait: over the control unit, beside the name of the processor."""
    if made.machine.interrupt:
        unit = made.boxes["CU"]
        made.boxes["request"] = Box(unit.right - width, unit.top - 3 - height, width, height)


def _adder(made: Drawing, trunk: float, top: float, height: float, beside: float) -> None:
    """The small adder, where the operand leaves the control unit: over the registers."""
    if made.machine.has_adder:
        left = trunk + beside
        right = made.boxes["store"].right - (4 if made.form is Form.TALL else 14)
        made.boxes[ADDER] = Box(left, top, right - left, height)


def _words(made: Drawing, top: float, indent: float, overview: float, key: float) -> None:
    """The memory words in sight, and under a window the overview of the whole with its key.

    ``overview`` is the height of both together, ``key`` that of the key."""
    memory = made.boxes["memory"]
    row = (memory.bottom - 8 - top - overview) / made.slots
    for slot in range(made.slots):
        made.boxes[f"slot{slot}"] = Box(
            memory.left + indent, top + slot * row, memory.width - indent - 8, row * 0.92
        )
    if overview:
        left, width = memory.left + indent, memory.width - indent - 8
        height = overview - 8 - key
        made.boxes["overview"] = Box(left, memory.bottom - overview, width, height)
        made.boxes["overview key"] = Box(left, memory.bottom - 4 - key, width, key)


def _inside(made: Drawing, trunk: float, west: float) -> None:
    """The lines inside the processor: a trunk with a branch to each register."""
    boxes, nodes = made.boxes, made.nodes

    def join(parts: tuple[str, ...], *names: str) -> None:
        made.join(Carrier.INSIDE, parts, *names)

    nodes["CU.bottom"] = (trunk, boxes["CU"].bottom)
    branches: dict[float, list[tuple[str, str]]] = {}
    for names in register_rows(made.machine, made.at_ports):
        sides = [(name, side) for name, side in zip(names, ("right", "left"), strict=True) if name]
        branches.setdefault(boxes[sides[0][0]].middle, []).extend(sides)
    for register, _ in PORTS if made.at_ports else ():
        branches.setdefault(boxes[register].middle, []).append((register, "left"))
    if ADDER in boxes:
        branches[boxes[ADDER].middle] = [(ADDER, "left")]
    for second, first in beside(made.machine).items():
        # Past the one whose place it shares, through the room over their row.
        top = boxes[first].top
        tags = [each.tag for each in made.machine.registers]
        over = (top + max(boxes[tag].bottom for tag in tags if boxes[tag].bottom < top)) / 2
        branches[over] = [(second, "top")]
    chain = ["CU.bottom"]
    for level, stations in sorted(branches.items()):
        junction = f"junction{len(chain) - 1}"
        nodes[junction] = (trunk, level)
        chain.append(junction)
        for name, side in stations:
            box = boxes[name]
            if side == "top":
                nodes[f"{name}.top"] = (box.centre, box.top)
                nodes[f"{name} turn"] = (box.centre, level)
                join((name, "store"), f"{name}.top", f"{name} turn", junction)
            else:
                nodes[f"{name}.{side}"] = (box.right if side == "right" else box.left, box.middle)
                join((name, "store"), f"{name}.{side}", junction)
    alu = boxes["ALU"]
    nodes["ALU.right"] = (trunk, alu.top)
    join(("CU", "store"), *chain[:2])
    join(("store",), *chain[1:])
    join(("ALU", "store"), chain[-1], "ALU.right")
    # The accumulator has a line of its own into the unit, and the result comes back on it.
    column = boxes["ACC"].left + boxes["ACC"].width * 0.3
    nodes["ACC.bottom"] = (column, boxes["ACC"].bottom)
    nodes["ALU.left"] = (column, alu.top)
    join(("ALU", "ACC"), "ACC.bottom", "ALU.left")
    status = boxes["status"]
    east = status.left + status.width * 0.7
    nodes["status.bottom"] = (east, status.bottom)
    if marks(made.machine):
        nodes["ALU.status"] = (east, alu.top)
        join(("ALU", "status"), "ALU.status", "status.bottom")
    else:
        nodes["ALU.side"] = (alu.right - alu.height * 0.14, alu.middle)
        nodes["status turn"] = (east, alu.middle)
        join(("ALU", "status"), "ALU.side", "status turn", "status.bottom")
    for mark in marks(made.machine):
        nodes[f"{mark}.bottom"] = (boxes[mark].centre, boxes[mark].bottom)
        nodes[f"ALU.{mark}"] = (boxes[mark].centre, alu.top)
        join(("ALU", mark), f"ALU.{mark}", f"{mark}.bottom")
    if ADDER in boxes:
        # The operand drops straight in; what a register holds comes along the trunk.
        adder = boxes[ADDER]
        drop = adder.left + adder.width * 0.75
        nodes["CU.operand"] = (drop, boxes["CU"].bottom)
        nodes["adder.top"] = (drop, adder.top)
        join(("CU", ADDER), "CU.operand", "adder.top")
    # What counts by itself has a loop at its side.
    for name in counters(made.machine):
        counter = boxes[name]
        loop = f"loop {name}" if name != "PC" else "loop"
        for side, share in (("top", 0.2), ("low", 0.8)):
            nodes[f"{name}.{side}"] = (counter.left, counter.top + counter.height * share)
            nodes[f"{loop} {side}"] = (west, counter.top + counter.height * share)
        join((name,), f"{name}.top", f"{loop} top", f"{loop} low", f"{name}.low")
        boxes["plus one" if name == "PC" else f"count {name}"] = Box(
            west + 2,
            counter.top + counter.height * 0.25,
            counter.left - west - 4,
            counter.height * 0.5,
        )


def _instead(made: Drawing) -> None:
    """Where the registers at the ends of two buses are not shown, the buses go on to the trunk."""
    for part, carrier in PORTS:
        parts = (f"{carrier} bus", "memory", "store")
        level = made.nodes[f"{part}.left"][1]
        junction = next(
            name
            for name, (_, y) in made.nodes.items()
            if name.startswith("junction") and y == level
        )
        made.edges.append(Edge(junction, f"{part}.{carrier}", carrier, parts, part))


def _bus(made: Drawing, carrier: Carrier, *names: str) -> None:
    # The control bus has no register between itself and the unit that it comes from.
    ends = ("memory", "CU") if carrier is Carrier.CONTROL else ("memory",)
    made.join(carrier, (f"{carrier} bus", *ends), *names)


def _buses_across(made: Drawing) -> None:
    boxes, nodes = made.boxes, made.nodes
    memory, edge = boxes["memory"], boxes["processor"].right
    for carrier, station in (
        (Carrier.CONTROL, "CU"),
        (Carrier.ADDRESS, "MAR"),
        (Carrier.DATA, "MDR"),
    ):
        level = boxes[station].middle
        nodes[f"{station}.{carrier}"] = (boxes[station].right, level)
        boxes[f"{carrier} bus"] = Box(edge + 3, level - 74, memory.left - edge - 6, 40)
        if carrier is Carrier.DATA:
            _rail(made, f"{station}.{carrier}", memory.left + 16)
        else:
            nodes[f"memory.{carrier}"] = (memory.left, level)
            _bus(made, carrier, f"{station}.{carrier}", f"memory.{carrier}")


def _buses_down(made: Drawing) -> None:
    """Down the right side of the screen, then in turn to the left, so that none crosses."""
    boxes, nodes = made.boxes, made.nodes
    memory = boxes["memory"]
    for carrier, station, east, level, west in (
        (Carrier.DATA, "MDR", 357, memory.top - 74, memory.left + 9),
        (Carrier.ADDRESS, "MAR", 367, memory.top - 49, 120),
        (Carrier.CONTROL, "CU", 378, memory.top - 24, 260),
    ):
        start, turn, corner = f"{station}.{carrier}", f"{carrier} turn", f"{carrier} corner"
        nodes[start] = (boxes[station].right, boxes[station].middle)
        nodes[f"{carrier} side"] = (east, boxes[station].middle)
        nodes[turn] = (east, level)
        nodes[corner] = (west, level)
        boxes[f"{carrier} bus"] = Box(west + 8, level - 20, 100, 17)
        _bus(made, carrier, start, f"{carrier} side", turn, corner)
        if carrier is Carrier.DATA:
            _rail(made, corner, west)
        else:
            nodes[f"memory.{carrier}"] = (west, memory.top)
            _bus(made, carrier, corner, f"memory.{carrier}")


def _rail(made: Drawing, start: str, x: float) -> None:
    """The data bus along the words of memory, with a short branch to each."""
    nodes = made.nodes
    level = nodes[start][1]
    nodes["rail"] = (x, level)
    _bus(made, Carrier.DATA, start, "rail")
    stops = [(level, "rail")]
    for slot in range(made.slots):
        box = made.boxes[f"slot{slot}"]
        nodes[f"rail{slot}"] = (x, box.middle)
        nodes[f"memory{slot}.left"] = (box.left, box.middle)
        _bus(made, Carrier.DATA, f"rail{slot}", f"memory{slot}.left")
        stops.append((box.middle, f"rail{slot}"))
    _bus(made, Carrier.DATA, *(name for _, name in sorted(stops)))


# The line that input and output share: hidden where neither is shown. It is no part of the data
# bus: it is a line of its own to the accumulator, and has a name of its own.
OUTSIDE = "outside"
OUTSIDE_NAME = "outside name"


def _outside_beside(made: Drawing) -> None:
    """Input and output, at the left of the processor, on branches of the data bus."""
    boxes, nodes = made.boxes, made.nodes
    level = boxes["ACC"].middle
    turn = (boxes["input"].right + boxes["processor"].left) / 2
    nodes["ACC.left"] = (boxes["ACC"].left, level)
    nodes["outside"] = (turn, level)
    made.join(Carrier.DATA, ("ACC", OUTSIDE), "ACC.left", "outside")
    for name in ("input", "output"):
        nodes[f"{name} turn"] = (turn, boxes[name].middle)
        nodes[f"{name}.right"] = (boxes[name].right, boxes[name].middle)
        parts = (name, "ACC", OUTSIDE)
        made.join(Carrier.DATA, parts, f"{name}.right", f"{name} turn", "outside")


def _outside_below(made: Drawing) -> None:
    """Input and output, under the processor, on branches of the data bus."""
    boxes, nodes = made.boxes, made.nodes
    west = made.nodes["loop top"][0]
    level = (boxes["processor"].bottom + boxes["input"].top) / 2
    nodes["ACC.left"] = (boxes["ACC"].left, boxes["ACC"].middle)
    nodes["outside"] = (west, boxes["ACC"].middle)
    nodes["outside down"] = (west, level)
    nodes["input.top"] = (west, boxes["input"].top)
    over = boxes["output"].left + boxes["output"].width / 4
    nodes["output turn"] = (over, level)
    nodes["output.top"] = (over, boxes["output"].top)
    made.join(Carrier.DATA, ("ACC", OUTSIDE), "ACC.left", "outside", "outside down")
    made.join(Carrier.DATA, ("input", "ACC", OUTSIDE), "outside down", "input.top")
    made.join(Carrier.DATA, ("output", "ACC", OUTSIDE), "outside down", "output turn", "output.top")
    # Its name stands over the turn of the line, under the loop of the program counter.
    left, counter = boxes["store"].left + 3, boxes[counters(made.machine)[-1]]
    top, bottom = counter.top + counter.height * 0.86, boxes["ACC"].top + boxes["ACC"].height * 0.36
    boxes[OUTSIDE_NAME] = Box(left, top, counter.left - left - 3, bottom - top)
