"""Collects the commands; an `InputError`, or a file that cannot be used, is one sentence, status 2.

Each command is a module of this folder with a function `command`, a group of commands one with
a `group`; it imports what is heavy inside that function, so that every other command starts
without it.
"""

import importlib
import os
import sys
from io import TextIOWrapper
from typing import Annotated, TextIO

import typer

from coldbench import __version__
from coldbench.errors import ConvergenceError, InputError

COMMANDS = ("pt", "loop", "circuit", "meter", "tree", "sequence", "lab", "assign", "build",
            "grade", "doctor", "report", "feedback", "export", "demo", "collect",
            "answers")
GROUPS = ("bench", "gradebook")

app = typer.Typer(
    name="coldbench",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)


def _say_version(wanted: bool) -> None:
    if wanted:
        print(f"coldbench {__version__}")
        raise typer.Exit


@app.callback()
def options(
    version: Annotated[bool, typer.Option(
        "--version", callback=_say_version, is_eager=True, help="Say the version and end.")] = False,
) -> None:
    """Lab manual and auto-graded worksheets for vehicle climate-control diagnostics."""


for name in COMMANDS:
    app.command(name)(importlib.import_module(f"coldbench.cli.{name}").command)
for name in GROUPS:
    app.add_typer(importlib.import_module(f"coldbench.cli.{name}").group)


def skip_unused_grammars() -> None:
    """Keep nbformat's schema checker from compiling 39 grammars of web addresses at its start.

    That takes ten times as long as all the rest of nbformat, for a check that no notebook asks
    for; the checker does without where the package is absent.
    """
    sys.modules.setdefault("rfc3987_syntax", None)  # type: ignore[arg-type]


def main(arguments: list[str] | None = None) -> None:
    """Run the command line [`arguments`: words after `coldbench`]; exits 2 on bad input."""
    skip_unused_grammars()
    if isinstance(sys.stdout, TextIOWrapper):  # a letter that the terminal lacks stops nothing
        sys.stdout.reconfigure(errors="replace")
    try:
        app(arguments)
    except (InputError, ConvergenceError) as error:
        print(f"coldbench: {error}", file=sys.stderr)
        sys.exit(2)
    except OSError as error:
        if not error.filename or not error.strerror:
            raise
        print(f"coldbench: {error.filename} cannot be used: {error.strerror}", file=sys.stderr)
        sys.exit(2)
    finally:
        _let_go(sys.stdout)


def _let_go(stream: TextIO) -> None:
    """Write out what waits; where nobody reads any more, as behind `| head`, drop it in silence."""
    try:
        stream.flush()
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
