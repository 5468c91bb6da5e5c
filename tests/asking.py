"""A lesson that asks the class something, for the tests of several folders.

The figures are worked out by hand from the description of the machine: LOAD is 4 steps of fetch,
1 of decode and 3 of execute; so the second instruction is decoded by step 13 and done by step 16.
The accumulator then holds 9 + 4.
"""

from __future__ import annotations

from pathlib import Path

from flask import Flask
from flask.testing import FlaskClient

from app.web.rooms import Room

STEP, REVEAL_STEP = 13, 16
RIGHT = "13"
PROMPT = "What will the accumulator hold?"
ASKING = f"""---
title: Ferry tickets
machine: 8-bit
---

# One fare, one bag

```program
        LOAD  fare
        ADD   bag
        OUTPUT
        HALT
fare:   9
bag:    4
```

```question
before first ADD: {PROMPT}
ask: the accumulator
choices: 13 or 9 or 6
```

```question
before first OUTPUT: Which number is printed?
ask: the output so far
choices: 13 or 9 or 4
```

# No bag

```program
        LOAD  fare
        HALT
fare:   9
```
"""


def write_lesson(folder: Path) -> Path:
    """The lesson as the file ``asking.md`` of a folder; answers the folder."""
    (folder / "asking.md").write_text(ASKING, encoding="utf-8")
    return folder


def teach(web: Flask, client: FlaskClient) -> Room:
    """Open the lesson; its room."""
    answer = client.post("/lessons/asking/teach", headers=same_origin())
    assert answer.status_code == 303, answer.text
    room = web.extensions["rooms"].get(answer.location.split("/")[-1])
    assert room
    return room


def same_origin() -> dict[str, str]:
    """What a browser says of a page of this server (the test client calls it localhost)."""
    return {"Origin": "http://localhost"}
