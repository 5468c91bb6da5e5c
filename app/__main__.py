"""The command line: ``python -m app`` or ``chalkcycle``."""

from __future__ import annotations

# Before anything else takes a lock or a socket: gevent gives each stream a greenlet, no thread.
from gevent import monkey

monkey.patch_all()

import signal  # noqa: E402
import socket  # noqa: E402
import sys  # noqa: E402
import webbrowser  # noqa: E402
from pathlib import Path  # noqa: E402

import click  # noqa: E402
import gevent  # noqa: E402
from gevent.pywsgi import WSGIServer  # noqa: E402

from app import create_app  # noqa: E402
from app.lesson.shelf import Shelf  # noqa: E402

USUAL_PORT = 8730
HERE = "127.0.0.1"


class _ServeUnlessNamed(click.Group):
    """Serves where no command is named, so that ``chalkcycle my-lessons`` just works."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        if not args or args[0] not in (*self.commands, "--help"):
            args = ["serve", *args]
        return super().parse_args(ctx, args)


@click.group(cls=_ServeUnlessNamed)
def main() -> None:
    """Chalkcycle shows a class what happens inside a processor, step by step."""


@main.command()
@click.argument("lessons", required=False, type=click.Path(path_type=Path))
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    help="The port to serve on; a free one is chosen if not given.",
)
@click.option("--browser/--no-browser", default=True, help="Whether to open the browser.")
def serve(lessons: Path | None, port: int | None, browser: bool) -> None:
    """Serve the LESSONS of a folder, or one lesson file (the shipped ones if not given)."""
    _look_at(lessons)
    listener = _listen(port)
    app = create_app(lessons)
    server = WSGIServer(listener, app, log=None)
    address = f"http://{HERE}:{listener.getsockname()[1]}/"
    click.echo(f"Chalkcycle is at {address}  (Ctrl-C stops it)")

    def stop() -> None:
        app.extensions["rooms"].close()
        server.stop(timeout=1)

    for name in (signal.SIGINT, signal.SIGTERM):
        gevent.signal_handler(name, stop)
    if browser:
        gevent.spawn(webbrowser.open, address)
    server.serve_forever()
    click.echo("Chalkcycle has stopped.")


def _look_at(lessons: Path | None) -> None:
    """Say what is wrong with the lessons before serving; only a missing place is fatal."""
    if lessons is None:
        return
    if not lessons.exists():
        raise click.ClickException(
            f"There is no folder or file '{lessons}'. Give the folder that holds your lessons."
        )
    if lessons.is_file() and lessons.suffix != ".md":
        raise click.ClickException(f"'{lessons}' is not a lesson file: its name must end in '.md'.")
    shelf = Shelf(lessons)
    if not shelf.files():
        click.echo(f"There is no lesson in '{lessons}' yet: no file there ends in '.md'.", err=True)
    for path, lesson in zip(shelf.files(), shelf.lessons(), strict=True):
        for problem in lesson.problems:
            click.echo(f"{path}:{problem}", err=True)


def _listen(port: int | None) -> socket.socket:
    """A listening socket. The usual port if it is free, so that bookmarks keep working."""
    for each in (port,) if port is not None else (USUAL_PORT, 0):
        listener = socket.socket()
        if sys.platform != "win32":
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((HERE, each))
        except OSError:
            listener.close()
            continue
        listener.listen(256)
        return listener
    raise click.ClickException(
        f"Port {port} is taken, perhaps by another Chalkcycle. Stop that one, or give another"
        " port with --port (0 finds a free one)."
    )


if __name__ == "__main__":
    main()
