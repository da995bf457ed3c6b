"""Collects the commands and turns an `InputError` into one sentence and exit status 2.

Each command is a module of this folder with a function `command`, a group of commands one with
a `group`; it imports what is heavy inside that function, so that every other command starts
without it.
"""

import importlib
import sys

import typer

from coldbench.errors import ConvergenceError, InputError

COMMANDS = ("pt", "loop", "circuit", "meter", "tree", "sequence", "lab", "assign", "build", "grade",
            "report", "feedback", "export", "demo")
GROUPS = ("bench",)

app = typer.Typer(
    name="coldbench",
    help="Lab manual and auto-graded worksheets for vehicle climate-control diagnostics.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)
for name in COMMANDS:
    app.command(name)(importlib.import_module(f"coldbench.cli.{name}").command)
for name in GROUPS:
    app.add_typer(importlib.import_module(f"coldbench.cli.{name}").group)


def main(arguments: list[str] | None = None) -> None:
    """Run the command line [`arguments`: words after `coldbench`]; exits 2 on bad input."""
    try:
        app(arguments)
    except (InputError, ConvergenceError) as error:
        print(f"coldbench: {error}", file=sys.stderr)
        sys.exit(2)
