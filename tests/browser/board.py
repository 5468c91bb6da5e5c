"""The board as a class sees it, read from the page."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import hypot
from typing import Any

from playwright.sync_api import Page, Route

Point = tuple[float, float]
PATIENCE_MILLISECONDS = 20_000
SHOWN_STEP = "Number(document.getElementById('frame').dataset.step)"

# In the page: writes down what travels, in every frame that the browser paints while anything
# does. Kept free of the page's own code: it only looks at what is on the screen. Each frame only
# where asked to, for that is much to look at.
RECORDER = """
(eachFrame) => {
  const vehicles = document.getElementById("vehicles");
  const record = { seen: [], samples: [] };
  window.record = record;
  const centre = (element) => {
    const box = element.getBoundingClientRect();
    return [box.x + box.width / 2 + scrollX, box.y + box.height / 2 + scrollY];
  };
  // The corners that it is going to pass, read from the animation that the browser carries out.
  const way = (element) => {
    const home = vehicles.getBoundingClientRect();
    return element.getAnimations()[0].effect.getKeyframes().map((each) => {
      const moved = new DOMMatrix(each.transform);
      return [
        home.x + scrollX + moved.e + element.offsetWidth / 2,
        home.y + scrollY + moved.f + element.offsetHeight / 2,
      ];
    });
  };
  const shown = () => Object.fromEntries(
    [...document.querySelectorAll(".register, .row")].map((each) => [
      each.dataset.place ?? `word ${each.dataset.address}`,
      (each.querySelector(".value").innerText ?? "").trim(),
    ]),
  );
  new MutationObserver((changes) => {
    for (const change of changes) {
      for (const node of change.addedNodes) {
        node.dataset.number = record.seen.length;
        record.seen.push({
          step: Number(document.getElementById("frame").dataset.step),
          text: node.textContent,
          carrier: [...node.classList].find((each) => each !== "vehicle"),
          way: way(node),
        });
      }
    }
  }).observe(vehicles, { childList: true });
  const look = () => {
    const present = [...vehicles.children];
    record.samples.push({
      step: Number(document.getElementById("frame").dataset.step),
      shown: shown(),
      vehicles: present.map((each) => ({ number: Number(each.dataset.number), at: centre(each) })),
    });
    requestAnimationFrame(look);
  };
  if (eachFrame) requestAnimationFrame(look);
}
"""

# Places are those of the page, which a phone scrolls.
# In the page: every drawn line on the screen, as its two ends, by what travels on it.
LINES = r"""
() => {
  const lines = {};
  for (const path of document.querySelectorAll("path.line")) {
    if (!path.checkVisibility()) continue;
    const toScreen = path.getScreenCTM();
    const carrier = ["inside", "address", "data", "control"].find((each) =>
      path.classList.contains(each));
    // A path may be several lines: each from where it moves to, to where it draws to.
    const corners = [...path.getAttribute("d").matchAll(/[ML]([-.\d]+) ([-.\d]+)/g)].map((each) => {
      const point = new DOMPoint(Number(each[1]), Number(each[2])).matrixTransform(toScreen);
      return [point.x + scrollX, point.y + scrollY];
    });
    for (let at = 0; at < corners.length; at += 2) {
      (lines[carrier] ??= []).push(corners.slice(at, at + 2));
    }
  }
  return lines;
}
"""

# A browser that keeps nothing for a page, as where storage is blocked, or a page is sandboxed (HTML
# Standard, section 'The localStorage getter').
NO_STORAGE = """
Object.defineProperty(window, "localStorage", {
  get() { throw new DOMException("The operation is insecure.", "SecurityError"); },
});
"""


@dataclass
class Board:
    """A page that shows a board."""

    page: Page
    lines: dict[str, list[tuple[Point, Point]]] = field(default_factory=dict)

    def open(self, address: str) -> Board:
        self.page.goto(address)
        self.wait("window.streamIsOpen")
        return self

    def hold(self, pattern: str) -> list[Route]:
        """Open the page once more, so that its requests to such an address wait in the list until
        they are let go.

        Opened once more, for a page that is there may send before its renderer knows of the route.
        """
        held: list[Route] = []
        self.page.route(pattern, lambda route: held.append(route))
        self.open(self.page.url)
        return held

    def wait_for_route(self, held: list[Route]) -> Route:
        """Wait until such a request is held."""
        for _ in range(PATIENCE_MILLISECONDS // 10):
            if held:
                return held.pop()
            self.page.wait_for_timeout(10)
        raise AssertionError("no request was held")

    def press(self, *keys: str) -> None:
        for key in keys:
            self.page.keyboard.press(key)

    def show_part(self, part: str) -> None:
        """Bring a part on stage that the lesson leaves out, as the teacher can by hand."""
        address = "`${location.pathname}/part`"
        body = "{method: 'POST', body: new URLSearchParams({part})}"
        assert not self.page.locator(f'[data-place="{part}"]').is_visible()
        self.page.evaluate(f"part => fetch({address}, {body})", part)
        self.page.locator(f'[data-place="{part}"]').wait_for()

    def step_to(self, key: str, step: int) -> None:
        """Press a key and wait until the board shows the step that it leads to."""
        self.press(key)
        self.wait_for_step(step)

    def jump(self, step: int) -> None:
        """Bring the board to a step at once, and wait until it is shown."""
        self.page.evaluate(
            "async ([address, step]) => { await fetch(address + '/step',"
            " { method: 'POST', body: new URLSearchParams({ step }) }); }",
            [self.page.url.rstrip("/"), step],
        )
        self.wait_for_step(step)

    def wait(self, condition: str, value: Any = None) -> None:
        """Wait, looking in every frame, until a condition over ``value`` holds in the page.

        Playwright's own way of doing so is what the page's policy refuses: it makes code of text.
        """
        self.page.evaluate(
            f"""async ({{ value, patience }}) => {{
              const holds = () => {condition};
              const end = performance.now() + patience;
              while (!holds()) {{
                if (performance.now() > end) throw new Error("waited in vain");
                await new Promise(requestAnimationFrame);
              }}
            }}""",
            {"value": value, "patience": PATIENCE_MILLISECONDS},
        )

    def wait_for_step(self, step: int) -> None:
        self.wait(f"{SHOWN_STEP} === value", step)

    def wait_for_step_after(self, step: int) -> None:
        self.wait(f"{SHOWN_STEP} > value", step)

    def wait_until_still(self) -> None:
        self.wait("!document.querySelector('.frame.moving, .vehicle')")

    def wait_for_vehicle(self) -> None:
        self.wait("document.querySelector('.vehicle')")

    @property
    def step(self) -> int:
        return int(self.page.get_attribute("#frame", "data-step") or -1)

    @property
    def scene(self) -> int:
        return int(self.page.get_attribute("#frame", "data-scene") or -1)

    def shown(self, place: str) -> str:
        """The value of a register as it is to be seen now."""
        return self.page.locator(f'[data-place="{place}"] .value').inner_text().strip()

    def sentence(self) -> str:
        return self.page.locator(".sentence").inner_text()

    def at_speed(self, presses: str) -> Board:
        """Make it faster or slower with its keys, ``+++`` or ``--``, and wait until it is."""
        beat = self.beat
        self.press(*presses)
        times = 2 ** (presses.count("+") - presses.count("-"))
        self.wait(
            "Math.abs(Number(document.getElementById('frame').dataset.beat) - value) < 1",
            beat / times,
        )
        return self

    @property
    def beat(self) -> float:
        """How long one value travels, in milliseconds."""
        return float(self.page.get_attribute("#frame", "data-beat") or 0)

    # Movement.

    def start_recording(self, each_frame: bool = True) -> None:
        self.lines = self.page.evaluate(LINES)
        self.page.evaluate(RECORDER, each_frame)

    def recorded(self) -> dict[str, Any]:
        """``seen``: each value that set out, with its way; ``samples``: each frame painted, where
        each was to be recorded."""
        return self.page.evaluate("window.record")

    def box(self, place: str) -> tuple[float, float, float, float]:
        """Left, top, right and bottom of a part, or of ``word 5`` of memory, on the screen."""
        kind, _, address = place.partition(" ")
        name = f'[data-address="{address}"]' if kind == "word" else f'[data-place="{place}"]'
        found = self.page.locator(name).bounding_box()
        assert found, f"{place} is not on the screen"
        scrolled = self.page.evaluate("[scrollX, scrollY]")
        left, top = found["x"] + scrolled[0], found["y"] + scrolled[1]
        return left, top, left + found["width"], top + found["height"]

    def distance_from_lines(self, carrier: str, at: Point) -> float:
        """How far a point of the screen is from the nearest drawn line of a kind."""
        return min(_distance(at, start, end) for start, end in self.lines[carrier])


def _distance(point: Point, start: Point, end: Point) -> float:
    """From a point to a line between two ends."""
    (x, y), (x1, y1), (x2, y2) = point, start, end
    along, across = x2 - x1, y2 - y1
    length = along * along + across * across
    share = ((x - x1) * along + (y - y1) * across) / length if length else 0
    share = min(max(share, 0), 1)
    return hypot(x - x1 - share * along, y - y1 - share * across)
