"""A first lesson to change: every block that its machine has a use for, in a setting that anybody
can picture."""

from __future__ import annotations

import re

from app.lesson.blocks.watch import seen_whole
from app.lesson.unseen import as_shown
from app.machine.machine import Machine
from app.machine.source.problems import capital

from .head import in_header

_TEXT = """\
---
title: {title}
machine: {machine}
depth: transfers
age: 11 to 14
minutes: 40
objectives:
  - name the parts of the processor and say what each one does
  - follow a number from main memory to the output
  - predict which way a jump goes
terms:
  program counter: holds the address of the next instruction
  accumulator: holds the number that is being worked on
---

# How small are the switches?

Pass a bread roll round. Then zoom in. At each stop ask the class: *how many of these side by
side make one of those before?* The numbers on the board are worked out from the lengths below.

```scale
a bread roll: 8 cm
a sesame seed: 3 mm
a grain of flour: 50 µm
a transistor gate of 2001: 65 nm
```

# The morning's bread

A bakery sells rolls and loaves. This program adds up what was sold. Only main memory and the
control unit are on stage at first; the cues bring in the other parts when they are needed. The
questions come up just before the machine gives the answer away.

```program
        LOAD  rolls     ; sold so far
        ADD   loaves
        STORE total     ; keep the sum
        OUTPUT          ; show it on the till
        HALT
rolls:  9
loaves: 5
total:  0
```

```show
main memory, control unit, PC, CIR, address bus, data bus
```

{watch}```cues
start: The program and its numbers lie side by side in main memory.
fetch 1: Where is the first instruction? The program counter knows. [show MAR and MDR]
execute 1: The number of rolls comes to the accumulator. [show accumulator]
execute of ADD: The arithmetic and logic unit adds. [show ALU, status]
when total changes: Now the sum is in main memory, too.
first OUTPUT: The till shows it. [show output, pause]
fetch of HALT: [speed 2]
end: The control unit has stopped the clock.
```

```question
before execute of ADD: What will the accumulator hold after this?
ask: the accumulator
```

```question
before fetch 2: Which address will the program counter hold after this fetch?
ask: the next address
choices: 1 or 2 or 3
```

```speed
clock: 3 GHz
```

# In the afternoon
minutes: 4
press: cue

The same program once more. Only the number of loaves is another one.

```change
loaves: 12
```

```cues
end: The program is as before. The number in main memory has changed, and so has the sum.
```

```question
ask at start: What will the till show now?
answer at end
ask: the output so far
```

# Until the basket is empty
minutes: 12
press: cue

The baker types how many rolls are in the basket, and the display counts them down. Stop at the
jump: *the program counter is about to go back*. Why does it not go back the last time?

```program
        INPUT           ; how many are in the basket?
again:  OUTPUT
        SUBTRACT #1     ; one is sold
        COMPARE  #0
        JUMP again IF MORE
        HALT
```

```inputs
3
```

```cues
INPUT: The baker has typed a number.
first jump taken: The status is MORE, so the program goes round again.
first jump not taken: Nothing is left, so there is no jump. [pause]
```

```question
before last JUMP: Which way will it go this time?
ask: which way the jump goes
```

```question
ask at first OUTPUT: What will the display have shown after the next OUTPUT?
answer at second OUTPUT
ask: the output so far
```

# In a pipeline
minutes: 4
press: cue

For older pupils; leave this scene out for others. The same basket, but the processor works on three
instructions at once. Each step is a tick of the clock.

```pipeline
3 stages, one memory
```

```cues
tick 3: Three instructions are under way.
first jump taken: Only now is it known that the program jumps.
end: How much faster was it?
```

# Which one is faster?
minutes: 4

For older pupils, too. Ask before each press.

```compare
one by one: clock 1 GHz, 3 stages one after another
in a pipeline: clock 1 GHz, pipeline 3 stages, two memories
```

```cues
end: Nothing in the program has changed.
```

# Your turn

Change the program so that it adds up two numbers that are typed in. The machine tries every
line below; it says which one goes wrong.

```program
        INPUT
        OUTPUT
        HALT
```

```inputs
2, 3
```

```task
goal: Read two numbers and output their sum.
inputs 2, 3 gives 5
inputs 0, 7 gives 7
inputs 20, -5 gives 15
```

The next block is for you alone: the class never sees it. The check tries it with every line.

```solution
        INPUT
        STORE first
        INPUT
        ADD   first
        OUTPUT
        HALT
first:  0
```

```homework
What does your program show for the inputs {near} and 27? And for {near} and 28?
({largest}; the sum of the other two does not fit a word of {bits} bits, so it shows {smallest}.)
```
"""

# Of a small memory all is in sight.
_WATCH = """\
This word stays in sight beside the program, wherever in memory the machine works:

```watch
total
```

"""


def starter_lesson(name: str, machine: Machine) -> str:
    """The text of a lesson file of this name; its title is made from the name."""
    plain = name.encode(errors="replace").decode()
    words = as_shown(re.sub(r"[-_]+", " ", plain)) or as_shown(plain) or "My lesson"
    watch = "" if seen_whole(machine) else _WATCH
    return _TEXT.format(
        title=in_header(capital(words)),
        machine=machine.name,
        watch=watch,
        near=machine.largest - 27,
        largest=machine.largest,
        smallest=machine.smallest,
        bits=machine.word_bits,
    )
