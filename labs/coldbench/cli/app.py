"""Collects the commands and turns an `InputError` into one sentence and exit status 2."""

import sys

import typer

from coldbench.cli import pt
from coldbench.errors import ConvergenceError, InputError

app = typer.Typer(
    name="coldbench",
    help="Lab manual and auto-graded worksheets for vehicle climate-control diagnostics.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)
app.command("pt")(pt.command)


def main(arguments: list[str] | None = None) -> None:
    """Run the command line [`arguments`: words after `coldbench`]; exits 2 on bad input."""
    try:
        app(arguments)
    except (InputError, ConvergenceError) as error:
        print(f"coldbench: {error}", file=sys.stderr)
        sys.exit(2)
