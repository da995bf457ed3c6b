"""`coldbench bench check`: every mistake of a bench file, with file, key and reason."""

from pathlib import Path
from typing import Annotated

import typer

from coldbench.cli.pt import _say
from coldbench.errors import InputError


def command(
    file: Annotated[Path, typer.Argument(help="Bench file, ending in .toml.")],
) -> None:
    """Check a bench file; exit status 1 if it has mistakes."""
    from coldbench.bench import load_bench

    try:
        bench = load_bench(file)
    except InputError as error:
        _say(str(error))
        raise typer.Exit(1) from None
    _say(f"{bench.file}: no mistakes")
