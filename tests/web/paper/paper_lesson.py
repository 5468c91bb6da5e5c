"""A lesson with something for every kind of paper: used by the tests of paper and of the replay."""

ASKING = """---
title: The garden gate
machine: 8-bit
depth: transfers
age: 12 to 14
minutes: 50
objectives:
  - say what a comparison leaves in the status
terms:
  status: what the last comparison found
---

# How small

```scale
a fingernail: 1 cm
a hair: 80 µm
```

# Open or shut

The gate opens when the *second* number is larger.

```program
        INPUT
        STORE first
        INPUT           ; the second number
        COMPARE first
        JUMP open IF MORE
        LOAD #0
        OUTPUT
        HALT
open:   LOAD #1
        OUTPUT
        HALT
first:  0
```

```inputs
4 7
```

```cues
start: Two numbers decide about the gate.
execute of STORE: The first number waits in memory.
end: The gate is open.
```

```question
before execute of COMPARE: What will the status be?
ask: the status
```

# Counting down

```program
        LOAD  many
again:  OUTPUT
        SUBTRACT #1
        COMPARE #0
        JUMP again IF MORE
        HALT
many:   5
```

```cues
start: Five, four, three. [speed 2]
first OUTPUT: The first number is out. [pause]
```
"""
