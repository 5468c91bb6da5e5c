"""Lessons as people leave them: odd spacing, comments, line ends of other systems."""

from __future__ import annotations

from random import Random

PROGRAMS = (
    """        INPUT       ; how many
again:  OUTPUT
        SUBTRACT #1
        JUMP again IF MORE
        HALT""",
    """\tLOAD a
   ADD b ;  the sum
STORE total
        OUTPUT
HALT
a: 9
b:\t4
total: 0""",
    """        JUMP  start
cans:   6
start:  LOAD  cans
        OUTPUT
        STORE copy
        HALT
copy:   0""",
    """        LOAD #2
        COMPARE #2
        JUMP  same IF EQUAL
        OUTPUT
same:   HALT""",
)
_CUES = (
    "start: The class looks.",
    "fetch 1: It is fetched.  [speed 2]",
    "execute 1: It is carried out, and this cue says so in so many words that it has to\n"
    "    go on in a second line. [show output, the status]",
    "first OUTPUT: It is shown [not in brackets] by now.",
    "end:   The clock has stopped.",
    "decode 2: [pause]",
)
_NOTES = (
    "**Ask:** *what now?*",
    "Notes  with two spaces.\n\n\n- a list\n- of two",
    "> a quotation\n\nand `code`",
    "~~~\nno block\n~~~",
)


def lesson(draw: Random) -> str:
    """The text of a lesson without a fault."""
    head = ["---", f"title:   Lesson {draw.randrange(100)}   # a remark", "machine: 8-bit"]
    if draw.random() < 0.4:
        head.append("depth: phases")
    if draw.random() < 0.3:
        head.append("show: everything but the status")
    lines = [*head, "---", *[""] * draw.randrange(3)]
    for number in range(draw.randint(1, 3)):
        lines += _scene(draw, number)
    end = draw.choice(("\n", "\n", "\r\n", "\r"))
    text = end.join(lines)
    if end == "\r\n" and draw.random() < 0.5:
        text = text.replace("\r\n", "\n", draw.randrange(1, 9))  # of both kinds
    return text + end * draw.choice((0, 1, 1, 3))


def headed(draw: Random) -> str:
    """A lesson of one small scene with a header of any shape, without a fault."""
    gap = draw.choice((" ", "  ", "\t"))
    remark = draw.choice(("", "", "  # a remark", "   #", " "))
    own = [
        ["machine: 8-bit"],
        [f"depth:{gap}{draw.choice(('phases', 'transfers', 'Phases'))}{remark}"],
        [f"press: {draw.choice(('cue', chr(39) + 'phase' + chr(39)))}{remark}"],
        [f"age:{gap}{draw.choice(('11 to 14', chr(34) + 'ages: 11 # on' + chr(34), 'eleven'))}"],
        [f"minutes:{gap}{draw.choice(('40', '40 ', chr(34) + '7' + chr(34)))}{remark}"],
        ["objectives:", "  - say what a bus is"],
        ["terms:", "  opcode: the half that says what to do", "", "  age: what a pupil has"],
        ["# minutes: 3", "show: everything but the status"],
        ["count: [ticks, trips]"],
    ]
    chosen = draw.sample(own, draw.randint(0, len(own)))
    title = draw.choice(("title: A lesson", "title:  'It''s: on'", 'title: "A # sign"   # remark'))
    chosen.insert(draw.randrange(len(chosen) + 1), [title])
    head = [each for field in chosen for each in field]
    if draw.random() < 0.2:
        head = [f"  {each}" if each.strip() else each for each in head]
    if draw.random() < 0.3:
        head.insert(draw.randrange(len(head) + 1), "")
    lines = ["---", *head, "---", "", "# One", "", "```program", "HALT"]
    end = draw.choice(("\n", "\n", "\r\n", "\r"))
    return end.join([*lines, "```"]) + end * draw.choice((0, 1))


def _scene(draw: Random, number: int) -> list[str]:
    lines = [f"# Scene {number}" + " " * draw.randrange(2)]
    if draw.random() < 0.4:
        lines.append(f"press: {draw.choice(('cue', 'phase', 'instruction'))}")
    lines += ["", *draw.choice(_NOTES).split("\n"), ""]
    program = draw.choice(PROGRAMS)
    if number == 0 or draw.random() < 0.7:
        lines += ["```program", *program.split("\n"), "```", ""]
        if "INPUT" in program:
            lines += ["``` inputs", "3 ; three", "```"]
    if draw.random() < 0.3:
        lines += ["", "```show", "everything but the output", "```"]
    if draw.random() < 0.7:
        indent = draw.choice(("", "", "  "))
        chosen = sorted(draw.sample(_CUES, draw.randint(1, 4)), key=_CUES.index)
        body = [indent + each for cue in chosen for each in cue.split("\n")]
        lines += ["", "```cues", *body, *[""] * draw.randrange(2), "```", *[""] * draw.randrange(2)]
    if draw.random() < 0.4:
        ask = "before fetch 2: What will it hold?\nask:  the accumulator"
        lines += ["", "```question", *ask.split("\n"), "```"]
    if draw.random() < 0.3:
        lines += ["", "A note between blocks.", "", "```homework", "Think. (Yes.)", "```"]
    return [*lines, ""]
