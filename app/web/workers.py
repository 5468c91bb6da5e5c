"""Pupils' computing in processes of its own, so that the board is never behind it.

The server is one process that does one thing at a time: while it works out a pupil's program, the
teacher's press waits. So what a pupil has worked out is passed on, as the request that it is, to a
worker (:mod:`app.worker`): a process with the same pages, less urgent to the system than the
server. (Letting a run go in slices would need every loop of the machine, the assembler and the
templates to stop now and then; threads of one Python take turns with one another, not with the
board.) There is one worker less than there are processors.

What a teacher asks for and takes long (a replay, a plan with hundreds of pictures) is done by a
worker of its own, which ends with it.
"""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from io import BufferedReader, BufferedWriter
from pathlib import Path
from typing import TypeVar

from flask import Response, abort, current_app, request

from app.classroom.limits import Turns

from .access import client_now, leave_turn

MOST_WORKERS = 4
# What one request may take on the clock before its worker is ended, and what it may wait for.
LONGEST_SECONDS = 10.0
PATIENCE_SECONDS = 20.0
# The same of what the teacher asks for.
LONGEST_ASIDE_SECONDS = 300.0
# The headers of a request that its answer depends on.
PASSED_ON = ("Accept-Encoding", "Content-Type", "HX-Request")
# No header of a request can have this name in the environment.
GIVEN = "chalkcycle.given"

_HEAD = 8
_APP = Path(__file__).resolve().parent.parent

View = TypeVar("View", bound=Callable[..., object])


@dataclass(frozen=True, slots=True)
class Asked:
    """A request as a worker gets it; ``given`` is what only the server knows of it, if anything:
    the view finds it as :func:`given`."""

    path: str
    query: str
    headers: dict[str, str]
    body: bytes
    given: object = None
    method: str = "POST"


@dataclass(frozen=True, slots=True)
class Answered:
    """What came of it, and the processor time (in seconds) that it took."""

    status: int
    headers: list[tuple[str, str]]
    body: bytes
    seconds: float


class WorkerGone(Exception):
    """The worker ended before it had answered, or was ended because it took too long."""


class Worker:
    """A process that answers one request at a time."""

    def __init__(self, lessons: Path, own: Path | None = None) -> None:
        paths = (str(_APP.parent), os.environ.get("PYTHONPATH", ""))
        self._process = subprocess.Popen(
            [sys.executable, "-m", "app.worker", str(lessons), *([str(own)] if own else [])],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env=os.environ | {"PYTHONPATH": os.pathsep.join(filter(None, paths))},
        )

    @property
    def alive(self) -> bool:
        return self._process.poll() is None

    def answer(self, asked: Asked, seconds: float) -> Answered:
        """Raises WorkerGone where it does not answer in so many seconds."""
        late = threading.Timer(seconds, self._process.kill)
        late.daemon = True
        late.start()
        try:
            assert self._process.stdin and self._process.stdout
            write_message(self._process.stdin, asked)  # type: ignore[arg-type]
            return read_message(self._process.stdout)  # type: ignore[arg-type, return-value]
        except (OSError, EOFError) as error:
            self.end()
            raise WorkerGone("the worker ended before it had answered") from error
        finally:
            late.cancel()

    def end(self) -> None:
        self._process.kill()
        self._process.wait()
        for each in (self._process.stdin, self._process.stdout):
            if each:
                # What has not been sent cannot be any more.
                try:
                    each.close()
                except OSError:
                    continue


def write_message(to: BufferedWriter, message: Asked | Answered) -> None:
    """A message between the server and its own worker: its length, and then itself."""
    data = pickle.dumps(message)
    to.write(len(data).to_bytes(_HEAD, "big") + data)
    to.flush()


def read_message(source: BufferedReader) -> Asked | Answered:
    """Raises EOFError where the other side has gone."""
    size = int.from_bytes(_exactly(source, _HEAD), "big")
    message = pickle.loads(_exactly(source, size))
    assert isinstance(message, Asked | Answered)
    return message


def _exactly(source: BufferedReader, size: int) -> bytes:
    data = b""
    while len(data) < size:
        piece = source.read(size - len(data))
        if not piece:
            raise EOFError("the other side has gone")
        data += piece
    return data


class Workers:
    """The workers of a server, and whose turn it is. Started when they are first needed."""

    def __init__(
        self,
        lessons: Path,
        class_size: int,
        number: int | None = None,
        own: Path | None = None,
    ) -> None:
        self.number = number or max(1, min((os.cpu_count() or 1) - 1, MOST_WORKERS))
        # One address may have a whole class behind it; but it leaves a worker to the others.
        self.turns = Turns(self.number, max(1, self.number - 1), 2 * class_size, max(class_size, 8))
        self._lessons, self._own = lessons, own
        self._idle: list[Worker] = []
        self._working: set[Worker] = set()
        self._closed = False
        self._lock = threading.Lock()
        # One thing that takes long is done after the other: whoever presses twice waits.
        self._aside = threading.Lock()

    def warm(self) -> None:
        """Start a worker, if there is none: somebody is about to ask for something."""
        with self._lock:
            if not self._idle and not self._closed and not self.turns.running:
                self._idle.append(Worker(self._lessons, self._own))

    def answer(self, client: str, asked: Asked) -> Answered | None:
        """The answer, once it is this client's turn; None where too many wait.

        Raises WorkerGone where it took too long.
        """
        if not self.turns.take(client, PATIENCE_SECONDS):
            return None
        # What takes too long costs whoever asked all that time.
        seconds = LONGEST_SECONDS
        try:
            worker = self._worker()
            try:
                answered = worker.answer(asked, LONGEST_SECONDS)
            finally:
                self._working.discard(worker)
            seconds = answered.seconds
            with self._lock:
                if not self._closed:
                    self._idle.append(worker)
                    return answered
            worker.end()
            return answered
        finally:
            self.turns.give_back(client, seconds)

    @contextmanager
    def aside(self) -> Iterator[Worker]:
        """A worker for something that takes long: no pupil waits for it, and it for none. What it
        is asked for may take LONGEST_ASIDE_SECONDS."""
        with self._aside:
            worker = Worker(self._lessons, self._own)
            self._working.add(worker)
            try:
                yield worker
            finally:
                self._working.discard(worker)
                worker.end()

    def _worker(self) -> Worker:
        """One that has nothing to do, or a new one."""
        with self._lock:
            while self._idle:
                worker = self._idle.pop()
                if worker.alive:
                    break
                worker.end()
            else:
                worker = Worker(self._lessons, self._own)
            self._working.add(worker)
            return worker

    def close(self) -> None:
        """End all of them, whatever they are at: nobody waits for it any more."""
        with self._lock:
            self._closed = True
            left, self._idle = [*self._idle, *self._working], []
        for each in left:
            each.end()


def given() -> object:
    """In a worker, what the server handed over with this request; in the server None."""
    return request.environ.get(GIVEN)


def has_workers() -> bool:
    """Whether requests are passed on from here."""
    return current_app.extensions["workers"] is not None


def pass_on(given: object = None) -> Response | None:
    """The answer of a worker to this request; None where the server has none and works itself."""
    workers: Workers | None = current_app.extensions["workers"]
    if workers is None:
        return None
    asked = _asked(given)
    leave_turn()
    try:
        answered = workers.answer(client_now(), asked)
    except WorkerGone:
        abort(503, "This takes the machine too long to work out. Change the program a little.")
    if answered is None:
        abort(503, "Many are trying their programs at this moment. Press again.")
    return _response(answered)


def pass_aside() -> Response | None:
    """The same of what takes long and a teacher asks for."""
    workers: Workers | None = current_app.extensions["workers"]
    if workers is None:
        return None
    try:
        with workers.aside() as worker:
            return _response(worker.answer(_asked(None), LONGEST_ASIDE_SECONDS))
    except WorkerGone:
        abort(503, "This takes too long to be made. Ask for one scene of the lesson alone.")


def _asked(given: object) -> Asked:
    """The request of now, as a worker gets it."""
    # A header may go over several lines, as it could of old; it is one all the same.
    there = (name for name in PASSED_ON if name in request.headers)
    headers = {name: " ".join(request.headers[name].split()) for name in there}
    query = request.query_string.decode("latin-1")
    return Asked(request.path, query, headers, request.get_data(), given, request.method)


def _response(answered: Answered) -> Response:
    response = Response(answered.body, answered.status)
    response.headers.clear()
    response.headers.extend(answered.headers)
    return response


def get_ready() -> None:
    """A page that will ask for something has been asked for."""
    workers: Workers | None = current_app.extensions["workers"]
    if workers is not None:
        workers.warm()
