"""The commands of ``seabed``, their exit codes, and what the user can correct."""

from __future__ import annotations

import atexit
import contextlib
import gc
import importlib
import inspect
import os
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from functools import cache, partial, wraps
from pathlib import Path
from typing import Any, Final

import typer

from layers import jobs
from layers.cautions import CAUTIONS_SHORT
from layers.cli import DONE, STOPPED, WRONG
from layers.cli.deriving import Command, Names, callback_of
from layers.cli.desk import desk
from layers.cli.showing import answered, plain, plain_output, print_json
from layers.jobs.options import Request
from layers.jobs.progress import Progress, collect_seldom, ignored
from layers.jobs.requests import request_of
from seabed import __version__
from seabed.errors import SeabedError, with_settings

COMMANDS: Final = (
    "demo",
    "area",
    "check",
    "scout",
    "tide",
    "plan",
    "trip",
    "season",
    "soundings",
    "marks",
    "picture",
)
"""Each is the function of that name in the module of that name under `commands`."""

_EPILOG: Final = f"""\
Start with: seabed desk (or seabed demo --out DIR)

Exit codes: 0 done; 2 an input problem you can fix; the message says how; 130 stopped; 1 a mistake
of the program, with a report to send.

{CAUTIONS_SHORT}
"""

app = typer.Typer(
    name="seabed",
    help="Find drift lines that pay: depth grids, tide and wind, and your own tracks.",
    epilog=_EPILOG,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)


def _version(wanted: bool) -> None:
    if wanted:
        print(f"seabed-layers {__version__}")
        raise typer.Exit


@app.callback(invoke_without_command=True)
def _root(
    context: typer.Context,
    version: bool = typer.Option(
        False, "--version", help="Print the version.", callback=_version, is_eager=True
    ),
) -> None:
    """Find drift lines that pay: depth grids, tide and wind, and your own tracks."""
    if context.invoked_subcommand is None:
        _desk()


def _register() -> None:
    modules = {name: importlib.import_module(f"layers.cli.commands.{name}") for name in COMMANDS}
    requests = {name: request_of(name) for name in COMMANDS}
    for name, module in modules.items():
        names = Names(requests, name)
        job = partial(_run, module.show, names)
        command = _guarded(callback_of(requests[name], names, job), names)
        examples = _copied_whole(module.EXAMPLES)
        app.command(name, cls=Command, help=inspect.getdoc(module), epilog=examples)(command)


def _run(show: Callable[[Any], None], names: Names, request: Request, as_json: bool) -> None:
    """Do a job, and show what came of it."""
    try:
        with _progress_bar(quiet=as_json) as progress:
            result = jobs.run(request, progress)
    except SeabedError as error:
        answers = None if as_json else answered(request, error, names)
        if answers is None:
            raise
        _run(show, names, answers, as_json)
        return
    for warning in result.warnings:
        print(plain(with_settings(warning, names)), file=sys.stderr)
    if as_json:
        print_json(result.answer())
    else:
        show(result)
    if not result.usable:
        raise SystemExit(WRONG)


def _copied_whole(examples: str) -> str:
    """Keep each example on one line, however narrow the window, so that it can be copied."""
    return examples.replace("\n\n  seabed ", "\n\n\b\n  seabed ")


def _guarded(command: Callable[..., None], names: Callable[[str], str]) -> Callable[..., None]:
    """Turn what a user can fix, and being stopped, into a message and an exit code."""

    @wraps(command)
    def guarded(*args: Any, **options: Any) -> None:
        _find_room_for_compiled_code()
        try:
            with plain_output(names):
                command(*args, **options)
            sys.stdout.flush()
        except SeabedError as error:
            print(plain(f"seabed: {error.text(names)}"), file=sys.stderr)
            setting, choices = error.question or ("", {})
            for word, meaning in choices.items():
                print(plain(f"  {names(setting)} {word}: {meaning}"), file=sys.stderr)
            raise SystemExit(WRONG) from error
        except KeyboardInterrupt as error:
            raise SystemExit(STOPPED) from error
        except BrokenPipeError as error:
            _drop_output()
            raise SystemExit(DONE) from error

    return guarded


_register()
_desk = _guarded(desk, "--{}".format)
app.command("desk")(_desk)


def run(arguments: Sequence[str] | None = None) -> None:
    """Run a command and exit; as `layers.cli.main.main`, which calls it."""
    _collect_seldom()
    _forgive_narrow_consoles()
    for word in sys.argv[1:] if arguments is None else arguments:
        if not word.isprintable() and any("\ud800" <= letter <= "\udfff" for letter in word):
            shown = os.fsencode(word).decode("utf-8", "replace")
            print(f"seabed: {shown}: a name that is not text. Rename it.", file=sys.stderr)
            sys.exit(WRONG)
    _tool()(args=arguments, prog_name="seabed")


@cache
def _tool() -> Any:
    """Give the command with its options, which take 10 ms to describe."""
    return typer.main.get_command(app)


def _collect_seldom() -> None:
    """Search for reference cycles seldom, and not once more at the end.

    The libraries make a million objects that stay until the end.  Walking through all of them takes
    a tenth of a command while they are loaded, and as long again when it ends.
    """
    collect_seldom()
    atexit.register(gc.freeze)


def _find_room_for_compiled_code() -> None:
    """Give numba a private folder for the run if it can write neither the package's nor the user's.

    It refuses to work without a place for compiled functions; the folder is private, since what is
    in it is run.
    """
    home = os.environ.get("XDG_CACHE_HOME") or os.path.expanduser("~")  # noqa: PTH111 (never raises)
    near = [Path(__file__).parents[1], _nearest_folder(Path(home))]
    if "NUMBA_CACHE_DIR" in os.environ or any(os.access(folder, os.W_OK) for folder in near):
        return
    folder = tempfile.mkdtemp(prefix="seabed-compiled-")
    os.environ["NUMBA_CACHE_DIR"] = folder
    atexit.register(shutil.rmtree, folder, ignore_errors=True)


def _nearest_folder(path: Path) -> Path:
    """Give the folder itself, or the nearest above it that is there."""
    return next((folder for folder in (path, *path.parents) if folder.is_dir()), Path())


def _forgive_narrow_consoles() -> None:
    """Print ``?`` for letters that a console can't show, instead of failing."""
    for stream in (sys.stdout, sys.stderr):
        with contextlib.suppress(AttributeError, ValueError):
            stream.reconfigure(errors="replace")  # type: ignore[union-attr]


def _drop_output() -> None:
    """Keep the interpreter from flushing to a reader that has gone."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


@contextlib.contextmanager
def _progress_bar(*, quiet: bool = False) -> Iterator[Progress]:
    """Show how far along a job is; nothing if `quiet`, or if standard error is no terminal."""
    if quiet or not sys.stderr.isatty():
        yield ignored
        return
    from rich import progress as rich
    from rich.console import Console

    columns = (
        rich.BarColumn(),
        rich.TextColumn("{task.description}", markup=False),
        rich.TimeElapsedColumn(),
    )
    with rich.Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("", total=1.0)
        yield lambda words, share: bar.update(task, description=words, completed=share)
