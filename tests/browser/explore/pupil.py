"""A pupil at the own machine: a lesson to try, what can be done with the page and seen on it."""

from __future__ import annotations

from playwright.sync_api import Page, expect

FERRY = "/explore/ferry/1"
LESSON = """---
title: The ferry ticket machine
machine: 8-bit
---

# One fare, one bag

```program
        LOAD  fare
        ADD   bag
        STORE total
        OUTPUT
        HALT
fare:   9
bag:    4
total:  0
```

```task
goal: Output what the passenger types plus the price of a bag, 4.
inputs 9 gives 13
inputs 1 gives 5
inputs -4 gives 0
```
"""
# Steps of the program: LOAD 1-8, ADD 9-16, STORE 17-24, OUTPUT 25-30, HALT 31-36.


class Pupil:
    """What a pupil does with the page and sees on it."""

    def __init__(self, page: Page, address: str) -> None:
        self.page = page
        self.address = address

    def open(self, path: str = FERRY) -> Pupil:
        self.page.goto(self.address + path)
        self.page.wait_for_selector("#frame", state="attached")
        return self

    def type_program(self, text: str) -> None:
        self.page.fill("#program", text)

    def press(self, *names: str) -> None:
        for name in names:
            self.page.click(f"#control-{name}")

    def tab(self, name: str) -> None:
        self.page.click(f"#tab-{name}")

    def at_step(self, number: int) -> None:
        expect(self.page.locator("#frame")).to_have_attribute(
            "data-step", str(number), timeout=20_000
        )

    def register(self, place: str) -> str:
        return self.page.locator(f".register[data-place={place}] .value").inner_text()

    @property
    def program(self) -> str:
        return self.page.input_value("#program")


def predicting(one: Pupil) -> Page:
    one.tab("predict")
    one.page.check("#predicting")
    expect(one.page.locator("form.ask")).to_be_visible()
    return one.page
