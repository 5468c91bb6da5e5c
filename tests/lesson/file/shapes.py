"""Texts that make a careless reader slow: each a function of the size that it is to have.

A reader that looks at every character a bounded number of times takes twice as long for twice the
text. Each shape here is one that some way of reading takes four times as long for, or worse: a
search that starts again at every place, a name compared with all others, a nest that is looked
through at every depth. The benchmark prints what each costs; the tests read all of them.
"""

from __future__ import annotations

from collections.abc import Callable
from random import Random

HEAD = "---\ntitle: A shape\nmachine: 16-bit\n---\n"
SCENE = HEAD + "# One\n"
INTERRUPTED = SCENE.replace("16-bit", "16-bit\nwith: interrupts")
INTERRUPTED += "```program\nHALT\n```\n```interrupts\n"


def wide(piece: str) -> str:
    """A piece with spaces after its lines, so that a file of 64 KB has no more than it may."""
    lines = piece.split("\n")
    width = 16 * (len(lines) - 1) // max(sum(bool(each) for each in lines), 1)
    return "\n".join(each.ljust(width) if each else "" for each in lines)


def filled(before: str, piece: str, after: str = "") -> Callable[[int], str]:
    """So many of a piece, between two texts, that the whole has the size."""

    piece = wide(piece)

    def made(size: int) -> str:
        return before + piece * (max(size - len(before) - len(after), 0) // len(piece)) + after

    return made


def counted(before: str, piece: str, after: str = "") -> Callable[[int], str]:
    """The same with pieces that each hold their number in place of ``{}``."""

    piece = wide(piece)

    def made(size: int) -> str:
        pieces = []
        left = size - len(before) - len(after)
        while left > 0:
            pieces.append(piece.format(len(pieces)))
            left -= len(pieces[-1])
        return before + "".join(pieces) + after

    return made


def block(kind: str, piece: str, before: str = "", after: str = "") -> Callable[[int], str]:
    """A block of a scene, filled with a piece (counted where it has a place for a number)."""
    fill = counted if "{}" in piece else filled
    return fill(f"{SCENE}```program\nHALT\n```\n```{kind}\n{before}", piece, f"{after}\n```\n")


def program(piece: str, before: str = "", after: str = "") -> Callable[[int], str]:
    fill = counted if "{}" in piece else filled
    return fill(f"{SCENE}```program\n{before}", piece, f"{after}\n```\n")


def shuffled(size: int) -> str:
    """Labels that are one word shuffled, and references to others that are none of them."""
    draw = Random(1)
    letters = [*"abcdefghijklmnop"]

    def word() -> str:
        draw.shuffle(letters)
        return "".join(letters)

    labels = "\n".join(f"{word()}: 0" for _ in range(size // 40))
    missing = "\n".join(f"LOAD {word()}" for _ in range(size // 44))
    return f"{SCENE}```program\n{labels}\n{missing}\n```\n"


def hundred_letters(size: int) -> str:
    """The same with names of a hundred letters."""
    draw = Random(2)
    names = ["".join(draw.choices("abc", k=100)) for _ in range(size // 208)]
    labels = "".join(f"{each}: 0\n" for each in names)
    return (
        f"{SCENE}```program\n{labels}{''.join(f'LOAD {each[1:]}x{chr(10)}' for each in names)}```\n"
    )


def changes(size: int) -> str:
    """Cues at the changes of words that no program has."""
    labels = "".join(f"name{at}: 0\n" for at in range(200))
    cues = "".join(f"when nam{at}x changes: a\n" for at in range(size // 24))
    return f"{SCENE}```program\nHALT\n{labels}```\n```cues\n{cues}```\n"


def changes_in_many_scenes(size: int) -> str:
    labels = "".join(f"name{at}: 0\n" for at in range(200))
    head = f"{SCENE}```program\nHALT\n{labels}```\n"
    scenes, left, at = [], size - len(head), 0
    while left > 0:
        cues = "".join(f"when nam{each}x changes: a\n" for each in range(150))
        scenes.append(f"# S{at}\n```cues\n{cues}```\n")
        left -= len(scenes[-1])
        at += 1
    return head + "".join(scenes)


def falling(mark: str, word: str = "") -> Callable[[int], str]:
    """Fences each one shorter than the one before."""

    def made(size: int) -> str:
        longest = int((2 * size) ** 0.5)
        return SCENE + "".join(f"{mark * each}{word}\n" for each in range(longest, 2, -1))

    return made


def rising(size: int) -> str:
    """Runs of backticks, each one longer than the one before, none closed."""
    longest = int((2 * size) ** 0.5)
    return SCENE + "x " + " ".join("`" * each for each in range(1, longest))


def deep(before: str, opening: str, after: str = "") -> Callable[[int], str]:
    return filled(HEAD + "# One\n" + before, opening, after)


def indented(size: int) -> str:
    """A list in a list in a list."""
    depth = int((size) ** 0.5)
    return SCENE + "".join("  " * at + "- a\n" for at in range(depth))


def endless(size: int) -> str:
    """A scene after another whose program never stops."""
    piece = "# S{}\n```program\nagain: ADD #1\nJUMP again\n```\n```cues\nend: a\n```\n"
    return counted(HEAD, piece)(size)


def watched(more: str, head: str = "", stops: str = "HALT\nx: <rounds>") -> Callable[[int], str]:
    """A scene after another (60 in 64 KB), each a long loop that is watched; ``stops`` is what ends
    it."""
    loop = "again: LOAD x\nSUBTRACT #1\nSTORE x\nCOMPARE #0\nJUMP again IF MORE\nADD #{}\n"
    piece = f"# S{{}}\n```program\n{loop.replace('{}', '1')}{stops}\n```\n{more}"

    def made(size: int) -> str:
        text = HEAD.replace("\n---\n", f"\n{head}---\n")
        # A small file, of which all pages are looked at, has one, and that a short one.
        scenes = max(60 * (size - 8_000) // 56_000, 1)
        rounds = "390" if scenes > 1 else "30"
        text += "".join(piece.replace("{}", str(at)) for at in range(scenes))
        return text.replace("<rounds>", rounds)

    return made


# A loop of which nobody sees the end.
_ON = "JUMP again\nx: <rounds>"
_RACE = (
    "```compare\na: pipeline 5 stages, two memories\nb: pipeline 3 stages, one memory\n"
    "c: pipeline 5 stages, one memory\nd: pipeline 3 stages, two memories\n```\n"
)
_CACHES = (
    "```compare\na: cache 1 line of 1 word\nb: cache 2 lines of 4 words\n"
    "c: cache 4 lines of 8 words\nd: cache 8 lines of 8 words, 2-way\n```\n"
)
_PLACES = "```cues\nwhen x changes: a\nsecond ADD: b\nend: c\n```\n"


# What was found, and what is alike. Every block, the header, the lines and the notes.
SHAPES: dict[str, Callable[[int], str]] = {
    # Lines, before Markdown reads them.
    "spaces and a mark": filled(SCENE, " ", "!"),
    "spaces and a word": filled(SCENE, " ", "program !"),
    "lines of spaces and a mark": filled(SCENE, " " * 1000 + "!\n"),
    "a fence, spaces and a backtick": filled(SCENE + "```", " ", "`"),
    "waves and a backtick": filled(SCENE, "~", "`"),
    "backticks and a word": filled(SCENE, "`", "x`"),
    "falling fences": falling("`"),
    "falling fences of a kind": falling("`", "program"),
    "falling waves": falling("~"),
    "fences that are never closed": filled(SCENE, "````program\n\n# A\n\n"),
    "fences without a kind, never closed": filled(SCENE, "`````\n\n# A\n\n~~~\n"),
    "fences behind what nobody sees": filled(SCENE, "\u200b```program\n\u200b# A\n\n"),
    "what nobody sees": filled(SCENE, "\u200b", "```program\n"),
    "words that start no block": filled(SCENE, "program\nHALT\n\n"),
    "headings without a space": filled(SCENE, "\n#A\n"),
    "smaller headings": filled(HEAD, "## A\n\n```show\nPC\n```\n"),
    "scenes": filled(HEAD, "# A\n"),
    "scenes of other names": counted(HEAD, "# A {}\n"),
    "one long heading": filled(HEAD + "# ", "a "),
    "underlined headings": filled(HEAD, "A\n=\n"),
    "empty lines": lambda size: "\n" * size + HEAD + "# One\n",
    "nothing but NUL": filled("", "\0"),
    "line ends of other systems": filled(SCENE, "\r"),
    # The header.
    "a title of spaces": filled("---\ntitle: a", " ", "#b\n---\n# One\n"),
    "a title of spaces in quotes": filled('---\ntitle: "a', " ", '"\n---\n# One\n'),
    "a title of words": filled("---\ntitle: ", "a ", "\n---\n# One\n"),
    "a title of colons": filled("---\ntitle: ", "a: ", "\n---\n# One\n"),
    "a title of quotation marks": filled("---\ntitle: '", "''", "\n---\n# One\n"),
    "brackets": filled("---\ntitle: A\nage: ", "[", "\n---\n# One\n"),
    "brackets and words": filled("---\ntitle: A\nobjectives: [", "a, ", "]\n---\n# One\n"),
    "curly brackets": filled("---\ntitle: A\nterms: ", "{a: ", "\n---\n# One\n"),
    "fields that there are not": counted("---\ntitle: A\n", "b{}: c\n", "---\n# One\n"),
    "one field again and again": filled("---\ntitle: A\n", "age: 9\n", "---\n# One\n"),
    "objectives": filled("---\ntitle: A\nobjectives:\n", "  - b\n", "---\n# One\n"),
    "objectives with an open quote": filled(
        "---\ntitle: A\nobjectives:\n", "  - 'b\n", "---\n# One\n"
    ),
    "terms": counted("---\ntitle: A\nterms:\n", "  t{}: b\n", "---\n# One\n"),
    "names for values": counted("---\ntitle: A\n", "b: &a{} c\n", "---\n# One\n"),
    "dashes": filled("---\ntitle: A\nage: ", "- ", "\n---\n# One\n"),
    "question marks": filled("---\ntitle: A\n", "? ", "\n---\n# One\n"),
    "a header without end": counted("---\ntitle: A\n", "b{}: c\n"),
    # Notes.
    "brackets in notes": filled(SCENE, "["),
    "pictures in notes": filled(SCENE, "!["),
    "brackets one within the other": filled(SCENE, "[a](", "b"),
    "links in links": filled(SCENE, "[a", "](b)" * 10),
    "brackets and backticks": filled(SCENE, "[`"),
    "closed brackets": filled(SCENE, "[]"),
    "half links": filled(SCENE, "[a]("),
    "half links with angles": filled(SCENE, "[a](<b"),
    "half links with titles": filled(SCENE, '[a](b "'),
    "names of links": counted(SCENE, "[a{}]: b\n"),
    "a name of a link again and again": filled(SCENE, "[a]: b\n"),
    "uses of a name": filled(SCENE + "[a]: b\n\n", "[a] "),
    "stars": filled(SCENE, "*"),
    "stars and words": filled(SCENE, "*a "),
    "stars and lines": filled(SCENE, "*a **a _a __a "),
    "lines under": filled(SCENE, "_a_b"),
    "waves in notes": filled(SCENE, "~~a "),
    "rising backticks": rising,
    "ampersands": filled(SCENE, "&"),
    "entities": filled(SCENE, "&#0;"),
    "angles": filled(SCENE, "<"),
    "angles and words": filled(SCENE, "<a "),
    "half addresses": filled(SCENE, "<http:"),
    "backslashes": filled(SCENE, "\\"),
    "brackets in addresses in brackets": filled(SCENE, '"[![|<a@b.c>]('),
    "quotations in quotations": filled(SCENE, "> "),
    "quotations in quotations, many lines": filled(SCENE, "> " * 40 + "a\n"),
    "quotations that something else ends": filled(SCENE, "> #\na\n"),
    "quotations in quotations that something else ends": filled(SCENE, "> > > #\na\n"),
    "quotations and lines that only look empty": filled(SCENE, "> #\n\N{NO-BREAK SPACE}\n"),
    "quotations and lines that only look like some": filled(SCENE, "> #\n1>\n"),
    "lists in lists in a line": filled(SCENE, "- "),
    "lists in lists": indented,
    "numbered lists": filled(SCENE, "1. a\n"),
    "lists and quotations": filled(SCENE, "- > "),
    "a paragraph of many lines": filled(SCENE, "a\n"),
    "paragraphs": filled(SCENE, "a\n\n"),
    "tables": filled(SCENE, "|a|b|\n|-|-|\n"),
    "a wide table": filled(SCENE, "|", "\n" + "|-" * 500 + "\n" + "a\n" * 500),
    "a table of short rows": filled(SCENE + "|" * 200 + "\n" + "|-" * 199 + "|\n", "a\n"),
    "rules": filled(SCENE, "***\n"),
    "spaces at the ends of lines": filled(SCENE, "a  \n"),
    "one long line of spaces": filled(SCENE + "a", " ", "a"),
    "spaces in a line of a scene": filled(SCENE + "minutes: 8", " ", "x\n"),
    "spaces in a note that looks like one": filled(SCENE + "note: a", " ", "b\n"),
    "indented text": filled(SCENE, "    a\n\n"),
    "images that never load": filled(SCENE, "![a](b.png) "),
    # Programs.
    "labels of one word shuffled": shuffled,
    "names of a hundred letters": hundred_letters,
    "labels": program("a{}: 0\n"),
    "labels on one line": program("a{}: "),
    "labels with wide colons": program("a{}\uff1a"),
    "labels of one word": program("a{}:\n", after="HALT"),
    "one label again and again": program("a: 0\n"),
    "one long label": program("a", after=": 0"),
    "one long word": program("a"),
    "one long word of an instruction": program("H", before="L"),
    "one long number": program("9"),
    "one long number of bits": program("1", before="0b"),
    "one long operand": program("a", before="LOAD "),
    "one long condition": program("a", before="JUMP 0 IF "),
    "colons": program(":"),
    "semicolons": program(";"),
    "unknown instructions": program("LAOD 1\n"),
    "other unknown instructions": program("LAOD{} 1\n"),
    "words that are none": program("a b c d "),
    "missing labels": program("LOAD b{}\n"),
    "numbers": program("200\n"),
    "spaces in a program": program(" ", after="HALT"),
    "programs that never stop": endless,
    # Inputs.
    "bad inputs on one line": block("inputs", "x "),
    "bad inputs": block("inputs", "x\n"),
    "inputs that do not fit": block("inputs", "99999 "),
    "inputs that are shown as others": block("inputs", "40000 "),
    "inputs": block("inputs", "1 "),
    "one long input": block("inputs", "1"),
    # Requests.
    "requests": filled(INTERRUPTED, "after instruction 1: 1\n", "```\n"),
    "bad requests": filled(INTERRUPTED, "x\n", "```\n"),
    "what one request brings": filled(f"{INTERRUPTED}in instruction 1:", " 1", "\n```\n"),
    "when one request comes": filled(f"{INTERRUPTED}after", " ", "instruction 1: 1\n```\n"),
    # Cues.
    "pause again and again": block("cues", "pause ", before="start: "),
    "pause again and again before a bracket": block(
        "cues", "pause ", before="start: ", after="] x]"
    ),
    "brackets in a cue": block("cues", "[", before="start: "),
    "actions in a cue": block("cues", "[pause] ", before="start: ", after="."),
    "open actions in a cue": block("cues", "[pause ", before="start: "),
    "spaces in the brackets of a cue": block(
        "cues", " ", before="start: a [reveal output", after="x]"
    ),
    "changes of lines that are not there": filled(
        f"{SCENE}```program\na: HALT\n```\n# Two\n```change\n", "x: 1\n", "\n```\n"
    ),
    "changes of one line": filled(
        f"{SCENE}```program\na: HALT\n```\n# Two\n```change\n", "a: 1\n", "\n```\n"
    ),
    "scenes that change the program": counted(
        f"{SCENE}```program\nHALT\na: 1\n{'; a comment' * 700}\n```\n",
        "# S{0}\n```change\na: {0}\n```\n",
    ),
    "parts in the brackets of a cue": block("cues", "x, ", before="start: a [reveal ", after="x]"),
    "a bracket and spaces": block("cues", "[ ", before="start: a"),
    "cues": block("cues", "start: a\n"),
    "a cue of many lines": block("cues", "  a\n", before="start: a\n"),
    "a place of many words": block("cues", "step ", after=": a"),
    "places that are none": block("cues", "fetsh {}: a\n"),
    "colons in a cue": block("cues", "start: "),
    "cues with signs that nobody sees": block("cues", "st\u200bart: \x0b\n"),
    "blocks in quotation marks and scenes": filled(SCENE, "# A\n'''program\n"),
    "changes of no word": changes,
    "changes of no word in many scenes": changes_in_many_scenes,
    # The other blocks.
    "names of parts": block("show", "PC, "),
    "names of no part": block("show", "x, "),
    "spaces between parts": block("show", " ", before="PC", after="x"),
    "and again and again": block("show", "and "),
    "one long name of a part": block("show", "a"),
    "spaces between choices": block(
        "question", " ", before="before end: a\nask: the accumulator\nchoices: 1", after="x"
    ),
    "choices": block(
        "question", "1 or ", before="before end: a\nask: the accumulator\nchoices: ", after="2"
    ),
    "reasons of a choice": block(
        "question",
        "or 1 ",
        before="before end: a\nask: the accumulator\nchoices: 1 because ",
        after="2",
    ),
    "other choices": block(
        "question", "{} or ", before="before end: a\nask: the output\nchoices: ", after="x"
    ),
    "a question of one long word": block("question", "a", before="before end: a\nask: "),
    "a question of many words": block("question", "a ", before="before end: a\nask: "),
    "lines of no question": block("question", "frob: a\n"),
    "questions": filled(
        SCENE + "```program\nHALT\n```\n", "```question\nbefore end: a\nask: the accumulator\n```\n"
    ),
    "a station": block("scale", "1", before="a: ", after=" m"),
    "a unit": block("scale", "m", before="a: 1 "),
    "commas in a length": block("scale", ",", before="a: 1", after=" m"),
    "spaces in a length": block("scale", " ", before="a: 1", after="x"),
    "stations": block("scale", "a: 1 m\n"),
    "a clock": block("speed", "clock: 1 Hz\n"),
    "one long clock": block("speed", "1", before="clock: 1"),
    "cases": block("task", "gives 1\n", before="goal: a\n"),
    "bad outputs of a case": block("task", "x ", before="goal: a\ngives "),
    "outputs of a case": block("task", "1 ", before="goal: a\ngives "),
    "inputs and gives": block("task", "inputs gives ", before="goal: a\n"),
    "inputs without gives": block("task", "inputs ", before="goal: a\n"),
    "a goal of many words": block("task", "a ", before="goal: "),
    "goals": block("task", "goal: a\n"),
    "blocks that there are not": filled(SCENE, "```frob\n```\n"),
    "one long kind of a block": filled(SCENE + "```", "a", "\n```\n"),
    "a second block": filled(SCENE, "```show\nPC\n```\n"),
    "machines to compare in many scenes": watched(_RACE),
    "machines that are asked about in many scenes": watched(
        f"{_RACE}```question\nbefore end: a\nask: how many times faster\n```\n"
    ),
    "caches to compare in many scenes": watched(
        f"{_CACHES}```question\nbefore end: a\nask: how many times faster\n```\n"
    ),
    "a pipeline on a loop without end in many scenes": watched(
        f"```pipeline\n5 stages, one memory\n```\n{_PLACES}",
        head="limit: <rounds>0\n",
        stops=_ON,
    ),
    "a cache on a loop without end in many scenes": watched(
        f"cache: 2 lines of 4 words\n\n{_PLACES}"
        "```question\nbefore step 400: a\nask: the misses\n```\n",
        head="limit: <rounds>0\ncache: 4 lines of 4 words\n",
        stops=_ON,
    ),
    "blocks in quotations": filled(SCENE, "> ```show\n> PC\n> ```\n\n"),
}

# The programs of these shapes alone, as a pupil may type them.
PROGRAMS: dict[str, Callable[[int], str]] = {}


def _alone(shape: Callable[[int], str]) -> Callable[[int], str]:
    return lambda size: shape(size).split("```program\n")[1].split("\n```")[0][: size - 10]


for _name, _shape in SHAPES.items():
    if _shape(1000).startswith(f"{SCENE}```program\n") and _shape(1000).count("```") == 2:
        PROGRAMS[_name] = _alone(_shape)
