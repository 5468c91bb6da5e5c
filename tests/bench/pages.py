"""What a page costs on a slow laptop: Chromium, its processor slowed four times.

``Emulation.setCPUThrottlingRate`` slows the page, not the server: on a laptop that is slow as a
whole the server is slow too, so its share is told, and added once more for each time. Each figure
has a bare one beside it from the same run: a page with nothing on it, which says what browser and
machine give.
"""

from __future__ import annotations

import json
import re
import statistics
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import pairwise
from pathlib import Path
from tempfile import TemporaryDirectory
from urllib.parse import urljoin

from playwright.sync_api import Browser, CDPSession, Page, sync_playwright

from tests.bench.process import processor_seconds
from tests.bench.rows import Row, percentile
from tests.browsers import find_browser
from tests.server import ROOT, Server

SLOWER = 4
LESSON = "02-ferry-ticket-machine"
LAPTOP = {"width": 1366, "height": 768}
KILOBYTE = 1024
# Two frames of 60 a second: what takes longer has been seen to stutter.
LATE_FRAME = 2000 / 60

# Before the page's own scripts.
WATCH = """
window.long = [];
new PerformanceObserver((list) => {
  for (const each of list.getEntries()) window.long.push([each.startTime, each.duration]);
}).observe({ type: "longtask", buffered: true });
addEventListener("htmx:after:sse:connection", () => { window.ready ??= performance.now(); });
"""
# From the key event to the first frame in which the value is under way. What an animation frame
# finds in the page is painted by the time of the next one.
PRESS = """
() => new Promise((resolve) => {
  addEventListener("keydown", (event) => {
    const pressed = event.timeStamp;
    const look = () => {
      if (!document.querySelector(".vehicle")) requestAnimationFrame(look);
      else requestAnimationFrame((painted) => resolve(painted - pressed));
    };
    requestAnimationFrame(look);
  }, { once: true, capture: true });
  window.listening = true;
})
"""
# The same on a page of nothing: the key adds the element itself.
BARE_PRESS = """
() => new Promise((resolve) => {
  addEventListener("keydown", (event) => {
    const pressed = event.timeStamp;
    const box = document.createElement("div");
    box.textContent = "5";
    document.body.append(box);
    box.animate([{ transform: "none" }, { transform: "translate(300px, 0)" }], 900);
    requestAnimationFrame(() => requestAnimationFrame((painted) => resolve(painted - pressed)));
  }, { once: true, capture: true });
})
"""
# The frames painted while values travel, until the movement has ended.
MOVEMENT = """
() => new Promise((resolve) => {
  const frames = [];
  let began = false;
  const look = (now) => {
    const moving = document.querySelector(".vehicle");
    if (moving) { began = true; frames.push(now); }
    if (began && !document.querySelector("#frame.moving")) resolve(frames);
    else requestAnimationFrame(look);
  };
  requestAnimationFrame(look);
})
"""
BARE_MOVEMENT = """
() => new Promise((resolve) => {
  const frames = [];
  const box = document.body.appendChild(document.createElement("div"));
  box.textContent = "5";
  const animation = box.animate(
    [{ transform: "none" }, { transform: "translate(300px, 0)" }], 900);
  const look = (now) => { frames.push(now); requestAnimationFrame(look); };
  requestAnimationFrame(look);
  animation.finished.then(() => resolve(frames));
})
"""


@contextmanager
def chromium() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=find_browser(),
            args=["--no-sandbox", "--disable-background-networking"],
        )
        yield browser
        browser.close()


def slowed(browser: Browser) -> tuple[Page, CDPSession]:
    """A page as of somebody who comes for the first time, on a slow machine."""
    context = browser.new_context(viewport=LAPTOP, color_scheme="light")
    context.add_init_script(WATCH)
    page = context.new_page()
    devtools = context.new_cdp_session(page)
    devtools.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    return page, devtools


def teach(server: Server) -> str:
    address = f"{server.address}/lessons/{LESSON}/teach"
    with urllib.request.urlopen(urllib.request.Request(address, method="POST")) as answer:
        return str(answer.url)


def until_ready(page: Page) -> float:
    """When, in milliseconds since the visit began, the page could be used."""
    while (ready := page.evaluate("window.ready")) is None:
        time.sleep(0.02)
    return float(ready)


class Wire:
    """What the browser says that came over the network: bytes of heads and bodies as they were
    sent, and bytes of bodies once unpacked. The beginning of a stream counts too."""

    def __init__(self, devtools: CDPSession) -> None:
        self._heads: dict[str, int] = {}
        self._sent: dict[str, int] = {}
        self._whole: dict[str, int] = {}
        self.unpacked = 0
        devtools.on("Network.responseReceived", self._head)
        devtools.on("Network.dataReceived", self._data)
        devtools.on("Network.loadingFinished", self._end)
        devtools.send("Network.enable")

    def _head(self, told: dict) -> None:
        self._heads[told["requestId"]] = int(told["response"]["encodedDataLength"])

    def _data(self, told: dict) -> None:
        of = told["requestId"]
        self._sent[of] = self._sent.get(of, 0) + int(told["encodedDataLength"])
        self.unpacked += int(told["dataLength"])

    def _end(self, told: dict) -> None:
        self._whole[told["requestId"]] = int(told["encodedDataLength"])

    @property
    def answers(self) -> int:
        return len(self._heads)

    @property
    def sent(self) -> int:
        return sum(
            self._whole.get(each, head + self._sent.get(each, 0))
            for each, head in self._heads.items()
        )


def weigh(browser: Browser, address: str) -> Wire:
    """All that is sent to somebody who comes for the first time."""
    page, devtools = slowed(browser)
    wire = Wire(devtools)
    page.goto(address)
    until_ready(page)
    page.wait_for_timeout(1000)
    page.context.close()
    return wire


def weight(who: str, wire: Wire) -> Row:
    return Row(
        f"first visit {who}, all bytes on the wire",
        "under 150 KB",
        f"{wire.sent / KILOBYTE:.0f} KB in {wire.answers} answers, their heads too"
        f" (unpacked {wire.unpacked / KILOBYTE:.0f} KB)",
        wire.sent < 150 * KILOBYTE,
    )


def class_address(board: str) -> str:
    """Where the pupils of a lesson follow it."""
    with urllib.request.urlopen(board) as answer:
        found = re.search(r"/class/\w+", answer.read().decode())
    assert found, "the board names no class"
    return "/".join([*board.split("/")[:3], found[0].lstrip("/")])


# A page of nothing but words with a style sheet and a script of nothing but a comment, packed as
# ours are: as many bytes of each kind as its arguments say, and three requests.
BARE_PAGE = """
from gevent import monkey; monkey.patch_all()
import gzip, random, sys
from gevent.pywsgi import WSGIServer
random.seed(1)
word = lambda: "".join(random.choices("etaoinshrdlu", k=random.randint(2, 9)))
words = lambda size: " ".join(word() for _ in range(size // 6))[:size]
page, sheet, script = map(int, sys.argv[1:])
head = "<!doctype html><title>bare</title><link rel=stylesheet href=/a.css><script defer src=/a.js>"
text = words(page - len(head) - 9)
lines = "".join(f"<p>{text[at:at + 400]}" for at in range(0, len(text), 400))[:len(text)]
files = {
    "/": ("text/html", f"{head}</script>{lines}"),
    "/a.css": ("text/css", f"/*{words(sheet)}*/"),
    "/a.js": ("text/javascript", f"/*{words(script)}*/"),
}
packed = {path: (kind, gzip.compress(text.encode(), 6)) for path, (kind, text) in files.items()}
def answer(environ, start):
    kind, body = packed.get(environ["PATH_INFO"], ("text/plain", gzip.compress(b"")))
    head = {"Content-Type": kind, "Content-Encoding": "gzip", "Content-Length": str(len(body))}
    start("200 OK", [*head.items()])
    return [body]
server = WSGIServer(("127.0.0.1", 0), answer, log=None)
server.start()
print(f"http://127.0.0.1:{server.server_port}/", flush=True)
server.serve_forever()
"""


def bytes_by_kind(board: str) -> list[int]:
    """How many bytes of text, style and script a board has once unpacked."""
    with urllib.request.urlopen(board) as answer:
        text = answer.read().decode()
    found = [len(text)]
    for kind in (r'<link rel="stylesheet" href="([^"]+)"', r'<script[^>]* src="([^"]+)"'):
        addresses = [urljoin(board, each) for each in re.findall(kind, text)]
        found.append(sum(len(urllib.request.urlopen(each).read()) for each in addresses))
    return found


@contextmanager
def bare_page(board: str) -> Iterator[str]:
    """The address of a bare page of as many bytes as a board has."""
    sizes = map(str, bytes_by_kind(board))
    process = subprocess.Popen(
        [sys.executable, "-c", BARE_PAGE, *sizes], stdout=subprocess.PIPE, text=True
    )
    assert process.stdout
    yield process.stdout.readline().strip()
    process.kill()
    process.communicate()


def until_loaded(page: Page, address: str) -> float:
    page.goto(address)
    return float(page.evaluate("performance.getEntriesByType('navigation')[0].loadEventEnd"))


def first_visit(browser: Browser, server: Server, visits: int) -> list[Row]:
    """All the bytes of the board, and the time until it follows the lesson."""
    times, bare = [], []
    board = teach(server)
    with bare_page(board) as bare_address:
        for _ in range(visits):
            page, _ = slowed(browser)
            page.goto(teach(server))
            times.append(until_ready(page))
            page.context.close()
            page, _ = slowed(browser)
            bare.append(until_loaded(page, bare_address))
            page.context.close()
    middle, bare_middle = statistics.median(times), statistics.median(bare)
    return [
        weight("to the board", weigh(browser, board)),
        weight("of a pupil", weigh(browser, class_address(board))),
        Row(
            f"first visit to the board until it is ready, {SLOWER} times slower",
            "1.3 times a bare page",
            f"{middle / bare_middle:.1f} times: {middle:.0f} ms, at most {max(times):.0f} ms"
            f" (a bare page of as many bytes: {bare_middle:.0f} ms)",
            middle <= 1.3 * bare_middle,
        ),
    ]


# How long the processor takes for the same work; the least of a few goes.
BUSY = """
() => {
  const found = [];
  for (let go = 0; go < 5; go += 1) {
    const start = performance.now();
    let sum = 0;
    for (let at = 0; at < 2e7; at += 1) sum = (sum + at * at) % 1000003;
    found.push(performance.now() - start + (sum < 0 ? 1 : 0));
  }
  return Math.min(...found);
}
"""


def slow_down(browser: Browser, server: Server) -> Row:
    """Whether a page is slowed at all: the rest would say nothing if it were not."""
    page, devtools = slowed(browser)
    page.goto(f"{server.address}/join")
    slow = float(page.evaluate(BUSY))
    devtools.send("Emulation.setCPUThrottlingRate", {"rate": 1})
    fast = float(page.evaluate(BUSY))
    page.context.close()
    times = slow / fast
    return Row("the slow-down of the page itself", f"about {SLOWER}", f"{times:.1f} times")


def press_and_movement(browser: Browser, server: Server, presses: int) -> list[Row]:
    page, _ = slowed(browser)
    page.goto(teach(server))
    until_ready(page)
    delays: list[float] = []
    intervals: list[float] = []
    page.evaluate("window.long = []")
    begun = processor_seconds(server.process.pid)
    for _ in range(presses):
        page.evaluate("window.result = null; window.frames = null")
        page.evaluate(f"() => {{ ({PRESS})().then((each) => {{ window.result = each; }}); }}")
        page.evaluate(f"() => {{ ({MOVEMENT})().then((each) => {{ window.seen = each; }}); }}")
        page.evaluate("window.seen = null")
        page.keyboard.press("PageDown")
        frames = _soon(page, "window.seen")
        delays.append(float(_soon(page, "window.result")))
        intervals += _between(frames)
    tasks = [float(each[1]) for each in page.evaluate("window.long")]
    served = 1000 * (processor_seconds(server.process.pid) - begun) / presses
    page.context.close()

    page, _ = slowed(browser)
    page.goto(f"{server.address}/join")
    page.evaluate("document.body.replaceChildren()")
    bare_delays: list[float] = []
    bare_intervals: list[float] = []
    for _ in range(presses):
        page.evaluate("window.result = null")
        page.evaluate(f"() => {{ ({BARE_PRESS})().then((each) => {{ window.result = each; }}); }}")
        page.keyboard.press("PageDown")
        bare_delays.append(float(_soon(page, "window.result")))
        bare_intervals += _between(page.evaluate(BARE_MOVEMENT))
    page.context.close()

    rate, bare_rate = 1000 / statistics.mean(intervals), 1000 / statistics.mean(bare_intervals)
    late = sum(each > LATE_FRAME for each in intervals) / len(intervals)
    bare_late = sum(each > LATE_FRAME for each in bare_intervals) / len(bare_intervals)
    middle, high = statistics.median(delays), percentile(delays, 0.95)
    longest = max(tasks, default=0)
    # The same laptop serves: what it takes there is in the delay once, and would be there as
    # often as the processor is slower.
    slow_server = high + (SLOWER - 1) * served
    return [
        Row(
            "from a key to the first painted movement",
            "under 100 ms",
            f"p50 {middle:.0f} ms, p95 {high:.0f} ms, with the server slowed too"
            f" {slow_server:.0f} ms (it takes {served:.1f} ms; a bare page:"
            f" {statistics.median(bare_delays):.0f}, {percentile(bare_delays, 0.95):.0f} ms)",
            slow_server < 100,
        ),
        Row(
            "frames a second in a movement",
            "60",
            f"{rate:.1f}, {late:.1%} late (a bare page: {bare_rate:.1f}, {bare_late:.1%})",
            rate > 59,
        ),
        Row(
            "... its longest task",
            "none over 50 ms",
            f"{longest:.0f} ms ({len(tasks)} over 50 ms in {presses} steps)"
            if tasks
            else f"none over 50 ms in {presses} steps",
            not tasks,
        ),
    ]


# Marks in a trace: the key, and the frame after the one with the first value under way.
MARKS = """
() => addEventListener("keydown", () => {
  performance.mark("bench:key");
  const look = () => {
    if (!document.querySelector(".vehicle")) requestAnimationFrame(look);
    else requestAnimationFrame(() => performance.mark("bench:painted"));
  };
  requestAnimationFrame(look);
}, { once: true, capture: true })
"""


def processor_time(browser: Browser, server: Server, presses: int) -> list[Row]:
    """The page's work from a key to the first painted movement, and its longest task in a step,
    in processor time, times the slow-down.

    Not slowed: what slows a page spends processor time too. Unlike the clock's time this says
    the same when other programs are busy.
    """
    context = browser.new_context(viewport=LAPTOP, color_scheme="light")
    context.add_init_script(WATCH)
    page = context.new_page()
    page.goto(teach(server))
    until_ready(page)
    longest, until_painted = [], []
    begun = processor_seconds(server.process.pid)
    for _ in range(presses):
        browser.start_tracing(page=page, categories=TRACED)
        page.evaluate(MARKS)
        page.evaluate(f"() => {{ ({MOVEMENT})().then((each) => {{ window.seen = each; }}); }}")
        page.evaluate("window.seen = null")
        page.keyboard.press("PageDown")
        _soon(page, "window.seen")
        trace = browser.stop_tracing()
        longest.append(SLOWER * max(tasks_of_page(trace)))
        until_painted.append(SLOWER * sum(tasks_of_page(trace, "bench:key", "bench:painted")))
    context.close()
    served = SLOWER * 1000 * (processor_seconds(server.process.pid) - begun) / presses
    work, most = statistics.median(until_painted), max(until_painted)
    middle, high = statistics.median(longest), max(longest)
    return [
        Row(
            f"from a key to the first painted movement, processor time times {SLOWER}",
            "under 100 ms",
            f"p50 {work:.0f} ms, at most {most:.0f} ms in the page; {served:.0f} ms in the server",
            most + served < 100,
        ),
        Row(
            f"the longest task of a step, processor time times {SLOWER}",
            "none over 50 ms",
            f"half under {middle:.0f} ms, all under {high:.0f} ms",
            high <= 50,
        ),
    ]


def visit_in_processor_time(browser: Browser, server: Server, visits: int) -> Row:
    """The same of a first visit: all that the page's main thread does until it is ready."""
    found = []
    for _ in range(visits):
        context = browser.new_context(viewport=LAPTOP, color_scheme="light")
        context.add_init_script(WATCH)
        page = context.new_page()
        browser.start_tracing(page=page, categories=TRACED)
        page.goto(teach(server))
        until_ready(page)
        found.append(SLOWER * sum(tasks_of_page(browser.stop_tracing())))
        context.close()
    return Row(
        f"... in processor time of the page, times {SLOWER}",
        "under 1 s",
        f"{statistics.median(found):.0f} ms, at most {max(found):.0f} ms",
        statistics.median(found) < 1000,
    )


TRACED = ["toplevel", "devtools.timeline", "blink.user_timing"]


def tasks_of_page(trace: bytes, since: str = "", until: str = "") -> list[float]:
    """The milliseconds of processor time of each task of the page's own main thread; of those
    only that end after the mark ``since`` and begin before ``until``, where they are given."""
    events = json.loads(trace)["traceEvents"]
    # It is the one that lays out.
    own = {(each["pid"], each["tid"]) for each in events if each["name"] == "Layout"}
    marks = {each["name"]: each["ts"] for each in events if each["name"] in (since, until)}
    first, last = marks.get(since, 0), marks.get(until, float("inf"))
    return [
        each["tdur"] / 1000
        for each in events
        if each["name"] == "ThreadControllerImpl::RunTask"
        and (each["pid"], each["tid"]) in own
        and "tdur" in each
        and each["ts"] + each["dur"] >= first
        and each["ts"] <= last
    ]


def _soon(page: Page, name: str) -> object:
    """A value that a page will have."""
    end = time.monotonic() + 30
    while (found := page.evaluate(name)) is None:
        if time.monotonic() > end:
            raise AssertionError(f"the page never had {name}")
        time.sleep(0.05)
    return found


def _between(frames: object) -> list[float]:
    assert isinstance(frames, list)
    return [after - before for before, after in pairwise(frames)]


# A server of one page in the same libraries: what Python and they take by themselves.
BARE_SERVER = """
from gevent import monkey; monkey.patch_all()
from flask import Flask
from gevent.pywsgi import WSGIServer
app = Flask("bare")
app.get("/")(lambda: "page")
server = WSGIServer(("127.0.0.1", 0), app, log=None)
server.start()
print(f"http://127.0.0.1:{server.server_port}/", flush=True)
server.serve_forever()
"""


def start(times: int) -> Row:
    """From the command to the first page, beside a server of one page in the same libraries."""
    ours, bare, work = [], [], []
    for _ in range(times):
        begun = time.monotonic()
        with Server(ROOT / "lessons") as server:
            urllib.request.urlopen(f"{server.address}/").read()
            ours.append(time.monotonic() - begun)
            work.append(processor_seconds(server.process.pid))
        begun = time.monotonic()
        process = subprocess.Popen(
            [sys.executable, "-c", BARE_SERVER], stdout=subprocess.PIPE, text=True
        )
        assert process.stdout
        urllib.request.urlopen(process.stdout.readline().strip()).read()
        bare.append(time.monotonic() - begun)
        process.kill()
        process.communicate()
    middle = statistics.median(ours)
    found = (
        f"{middle:.2f} s, of it {statistics.median(work):.2f} s of processor time"
        f" (a bare server: {statistics.median(bare):.2f} s)"
    )
    return Row("start of the server to the first page", "under 1.5 s", found, middle < 1.5)


QUESTION = re.compile(r"^```question$.*?^```$", re.MULTILINE | re.DOTALL)


@contextmanager
def without_questions() -> Iterator[Path]:
    """The lesson, in a folder of its own, without its questions: there a press would stop."""
    text = (ROOT / "lessons" / f"{LESSON}.md").read_text(encoding="utf-8")
    with TemporaryDirectory() as folder:
        file = Path(folder) / f"{LESSON}.md"
        file.write_text(QUESTION.sub("", text), encoding="utf-8")
        yield Path(folder)


def rows(quick: bool) -> list[Row]:
    found = [start(3 if quick else 7)]
    with without_questions() as lessons, Server(lessons) as server, chromium() as browser:
        found.append(slow_down(browser, server))
        found += first_visit(browser, server, 3 if quick else 7)
        found.append(visit_in_processor_time(browser, server, 3 if quick else 7))
        found += press_and_movement(browser, server, 8 if quick else 24)
        found += processor_time(browser, server, 8 if quick else 24)
    return found
