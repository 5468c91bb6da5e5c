"""The command line: ``python -m app`` or ``chalkcycle``."""

from __future__ import annotations

# Before anything else takes a lock or a socket: gevent gives each stream a greenlet, no thread.
from gevent import monkey

monkey.patch_all()

import errno  # noqa: E402
import gc  # noqa: E402
import io  # noqa: E402
import os  # noqa: E402
import re  # noqa: E402
import signal  # noqa: E402
import socket  # noqa: E402
import stat  # noqa: E402
import sys  # noqa: E402
import webbrowser  # noqa: E402
from pathlib import Path  # noqa: E402

import click  # noqa: E402
import gevent  # noqa: E402

from app import create_app  # noqa: E402
from app.authoring import check, new  # noqa: E402
from app.classroom.keyring import Keyring  # noqa: E402
from app.classroom.limits import USUAL_CLASS_SIZE  # noqa: E402
from app.classroom.store import KEEP_DAYS, Store, StoreError  # noqa: E402
from app.lesson.file.shelf import Shelf  # noqa: E402
from app.machine.source.problems import printable  # noqa: E402
from app.paths import Forgotten, folder_to_write, resource, usual_store  # noqa: E402
from app.printing import print_lesson, replay  # noqa: E402
from app.web.follow.invitation import own_address  # noqa: E402
from app.web.server import MOST_WAITING, Server, open_way  # noqa: E402
from app.web.workers import Workers  # noqa: E402

USUAL_PORT = 8730
HERE = "127.0.0.1"
EVERYWHERE = "0.0.0.0"


class _ServeUnlessNamed(click.Group):
    """Serves where no command is named, so that ``chalkcycle my-lessons`` just works."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        if not args or args[0] not in (*self.commands, "--help"):
            args = ["serve", *args]
        return super().parse_args(ctx, args)

    def invoke(self, ctx: click.Context) -> object:
        try:
            return super().invoke(ctx)
        except click.UsageError as error:
            # It may quote what was typed, as it was typed.
            raise click.UsageError(printable(error.format_message()), error.ctx) from error

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Every command with its whole sentence, and the options of the one that needs no name."""
        whole = [
            (name, each.get_short_help_str(limit=1000)) for name, each in self.commands.items()
        ]
        with formatter.section("Commands (each tells its options with --help)"):
            formatter.write_dl(sorted(whole))
        options = [each for each in self.commands["serve"].params if isinstance(each, click.Option)]
        records = [each.get_help_record(ctx) for each in options]
        with formatter.section("Options of 'serve', the command where none is named"):
            formatter.write_dl([each for each in records if each])


@click.group(cls=_ServeUnlessNamed, subcommand_metavar="[COMMAND] [ARGS]...")
def main() -> None:
    """Chalkcycle shows a class what happens inside a processor, step by step."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            # Lessons have signs that not every terminal has.
            stream.reconfigure(errors="backslashreplace")


for command in (check, new, print_lesson, replay):
    main.add_command(command)


@main.command()
@click.argument("lessons", required=False, type=click.Path(path_type=Path))
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    help=f"The port to serve on; if not given, {USUAL_PORT} where it is free, else any free one.",
)
@click.option("--browser/--no-browser", default=True, help="Open the browser, or leave it closed.")
@click.option("--share", is_flag=True, help="Let the class follow over the local network.")
@click.option(
    "--address",
    "names",
    multiple=True,
    metavar="NAME",
    help="With --share: the name or address by which the class reaches this machine, where"
    " Chalkcycle does not find it. Can be given several times; the first one is shown.",
)
@click.option(
    "--new-key",
    is_flag=True,
    help="With --share: a new address for the teacher; the one before, good for a day, ends.",
)
@click.option(
    "--class-size",
    type=click.IntRange(1, 2000),
    default=USUAL_CLASS_SIZE,
    show_default=True,
    help="How many pupils can follow and answer.",
)
@click.option(
    "--store",
    "store_path",
    type=click.Path(dir_okay=False, path_type=Path),
    help=f"The file that keeps lessons and answers, for {KEEP_DAYS} days. If not given, one in your"
    " own folder for such files; 'none' keeps them in memory only.",
)
@click.option(
    "--own",
    "own_path",
    type=click.Path(file_okay=False, path_type=Path),
    help="The folder for lessons that you write in the browser; it is remembered. Not with LESSONS:"
    " what you write is kept there then.",
)
def serve(
    lessons: Path | None,
    port: int | None,
    browser: bool,
    share: bool,
    names: tuple[str, ...],
    new_key: bool,
    class_size: int,
    store_path: Path | None,
    own_path: Path | None,
) -> None:
    """Serve the LESSONS of a folder, or one lesson file (the shipped ones if not given)."""
    _look_at(lessons)
    if names and not share:
        raise click.ClickException("--address is for --share: without it nobody else can connect.")
    _check_names(names)
    if new_key and not share:
        raise click.ClickException("--new-key is for --share: without it there is no key.")
    store = _store(store_path)
    listener = _listen(port, EVERYWHERE if share else HERE)
    port = listener.getsockname()[1]
    here = f"http://{HERE}:{port}/"
    to_open, class_address, keyring = here, None, None
    if share:
        names = names or _own_names()
        class_address = f"http://{names[0]}:{port}/"
        keyring = Keyring(
            store,
            renew=new_key,
            on_new=lambda key: _say_where(
                "A day is over. The teacher's address is now", here, class_address, key
            ),
        )
        # What a browser is started with can be seen by everybody on this machine.
        to_open = f"{here}?ticket={keyring.ticket()}"
    own = _own(lessons, own_path)
    workers = Workers(lessons or resource("lessons"), class_size, own=own)
    app = create_app(
        lessons,
        names,
        teacher_key=keyring,
        address=class_address,
        store=store,
        class_size=class_size,
        workers=workers,
        own=own,
    )
    if not share:
        sharing = app.extensions["sharing"]
        sharing.opens = lambda: open_way(app, own_address(), port, class_size)
    app.extensions["rooms"].look_after()
    server = Server(listener, app, class_size)

    def stop() -> None:
        app.extensions["rooms"].close()
        workers.close()
        server.stop(timeout=1)
        if not share:
            app.extensions["sharing"].shut_out()

    for name in (signal.SIGINT, signal.SIGTERM):
        gevent.signal_handler(name, stop)
    _say_where("Chalkcycle is at", here, class_address, keyring.key if keyring else None)
    click.echo("Ctrl-C stops it.")
    if class_address:
        click.echo("Keep what has the key in it to yourself: whoever has it can teach.")
        click.echo(f"The class joins at {class_address} with the code that the board shows.")
    if browser:
        gevent.spawn(webbrowser.open, to_open)
    # What is there now stays. To look through it for garbage would hold up a frame now and then.
    gc.freeze()
    try:
        server.serve_forever()
    finally:
        _close(store)
    click.echo("Chalkcycle has stopped.")


def _say_where(words: str, here: str, class_address: str | None, key: str | None) -> None:
    """Print the teacher's address: on this computer and, where others get here, from them."""
    query = f"?key={key}" if key else ""
    click.echo(f"{words} {here}{query}")
    if class_address and class_address != here:
        click.echo(f"From another computer that is {class_address}{query}")


# A host name or an address of four numbers: RFC 1123, section 2.1.
_NAME = re.compile(
    r"(?=.{1,253}$)[A-Za-z0-9]([A-Za-z0-9-]{0,62})(\.[A-Za-z0-9]([A-Za-z0-9-]{0,62}))*"
)


def _check_names(names: tuple[str, ...]) -> None:
    """Refuse what the class could not type as the name of a machine."""
    for name in names:
        numbers = re.fullmatch(r"[0-9.]+", name) is not None
        if _NAME.fullmatch(name) and (not numbers or _is_address(name)):
            continue
        shown = printable(name)
        inside = re.sub(r"^[a-z]+://|[:/?#].*$", "", name)
        example = inside if inside != name and _NAME.fullmatch(inside) else "10.0.0.5"
        raise click.ClickException(
            f"'{shown}' is not the name or address of a machine. Give it alone, without 'http://'"
            f" and without a port, such as --address {example}."
        )


def _is_address(text: str) -> bool:
    try:
        socket.inet_pton(socket.AF_INET, text)
    except OSError:
        return False
    return True


def _look_at(lessons: Path | None) -> None:
    """Say what is wrong with the lessons before serving; only a place that is missing, or can hold
    no lessons, is fatal."""
    if lessons is None:
        return
    shown = printable(str(lessons))
    mend = "Give the folder that holds your lessons."
    try:
        mode = os.stat(lessons).st_mode
    except (FileNotFoundError, NotADirectoryError) as error:
        raise click.ClickException(f"There is no folder or file '{shown}'. {mend}") from error
    except OSError as error:
        said = f"'{shown}' cannot be looked at: {error.strerror}. {mend}"
        raise click.ClickException(said) from error
    if not stat.S_ISREG(mode) and not stat.S_ISDIR(mode):
        raise click.ClickException(f"'{shown}' is no file but a pipe or a device. {mend}")
    if stat.S_ISREG(mode) and lessons.suffix != ".md":
        raise click.ClickException(f"'{shown}' is not a lesson file: its name must end in '.md'.")
    shelf = Shelf(lessons)
    files = shelf.files()
    if not files:
        nothing = f"There is no lesson in '{shown}' yet: no file there ends in '.md'."
        click.echo(shelf.closed() or nothing, err=True)
    for path in files:
        for problem in shelf.read(path).problems:
            click.echo(f"{printable(str(path))}:{problem}", err=True)


def _own(lessons: Path | None, chosen: Path | None) -> Path:
    """The folder that lessons are written into, remembered where it is ``chosen``."""
    try:
        return folder_to_write(lessons, chosen)
    except Forgotten as lost:
        memory, usual = printable(str(lost.memory)), printable(str(lost.usual))
        click.echo(
            f"Which folder was chosen for your own lessons is not known: '{memory}' cannot be read"
            f" ({lost.why}). This time it is '{usual}'. If you have chosen another one, see that"
            " you are allowed to read that file, and start Chalkcycle again.",
            err=True,
        )
        return lost.usual
    except ValueError as error:
        raise click.ClickException(str(error)) from error
    except OSError as error:
        said = f"The folder of your lessons cannot be found: {error.strerror}. Give its whole path."
        if chosen:
            said = (
                f"The folder cannot be remembered: {error.strerror}. Start without --own, or see"
                f" that you are allowed to write into '{printable(str(usual_store().parent))}'."
            )
        raise click.ClickException(said) from error


def _store(path: Path | None) -> Store:
    """The store that was asked for."""
    if path is not None and str(path) == "none":
        return Store(None)
    try:
        return Store(path or usual_store())
    except StoreError as error:
        # The class is waiting: it is taught all the same.
        said = f"{error} Then start Chalkcycle again: nothing is kept before that."
        click.echo(said, err=True)
        return Store(None, trouble=said)


def _close(store: Store) -> None:
    try:
        store.close()
    except StoreError as error:
        click.echo(str(error), err=True)


def _own_names() -> tuple[str, ...]:
    """The address of this machine in its network, and its name."""
    found = own_address()
    if found is None:
        click.echo(
            "This machine seems to be in no network: only pages on it can join. If it is in one,"
            " give its address with --address.",
            err=True,
        )
        return (HERE,)
    name = socket.gethostname()
    return (found, name, f"{name}.local") if name else (found,)


def _listen(port: int | None, interface: str) -> socket.socket:
    """A listening socket. The usual port if it is free, so that bookmarks keep working."""
    trouble = None
    for each in (port,) if port is not None else (USUAL_PORT, 0):
        listener = socket.socket()
        if sys.platform != "win32":
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((interface, each))
        except OSError as error:
            listener.close()
            trouble = error
            continue
        listener.listen(MOST_WAITING)
        return listener
    assert trouble
    if port is None:
        raise click.ClickException(
            f"No port of this machine can be used: {trouble.strerror}. See that its network is on,"
            " or give a port that the system allows with --port."
        )
    if trouble.errno == errno.EADDRINUSE:
        raise click.ClickException(
            f"Port {port} is taken, perhaps by another Chalkcycle. Stop that one, or give another"
            " port with --port (0 finds a free one)."
        )
    raise click.ClickException(
        f"Port {port} cannot be used: {trouble.strerror}. Give another one with --port, such as"
        f" {USUAL_PORT} (0 finds a free one); many systems keep those below 1024 for themselves."
    )


if __name__ == "__main__":
    main()
