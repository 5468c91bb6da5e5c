"""A lesson whose run a bell may break into, without a request of its own."""

from __future__ import annotations

LESSON = """---
title: The bell
machine: 16-bit
with: interrupts
---
# The bell

```program
        ENABLE bell
        LOAD  #0
again:  ADD   #1
        COMPARE #6
        JUMP  again IF LESS
        HALT
bell:   PUSH
        INPUT
        OUTPUT
        POP
        RETURN FROM INTERRUPT
```
"""
