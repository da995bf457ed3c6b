"""`coldbench bench new`: a commented start of a bench file."""

import re
from importlib import resources
from pathlib import Path
from typing import Annotated

import typer

from coldbench.cli.say import say
from coldbench.errors import InputError

_NAME = re.compile(r'^name = "template" *', re.MULTILINE)
_STEM = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]*")


def command(
    file: Annotated[Path, typer.Argument(help="File to write, ending in .toml.")],
) -> None:
    """Write a commented bench file to start from; an existing file is never overwritten."""
    if file.suffix != ".toml" or not _STEM.fullmatch(file.stem):
        raise InputError(f"{file}: a bench file is named with letters, digits, - and _, and ends "
                         "in .toml")
    text = resources.files("coldbench.bench").joinpath("data", "template.toml").read_text("utf-8")
    try:
        with file.open("x", encoding="utf-8", newline="\n") as new:
            new.write(_NAME.sub(lambda old: f'name = "{file.stem}"'.ljust(len(old[0])), text, 1))
    except FileExistsError:
        raise InputError(f"{file} exists already; give another name") from None
    except OSError as error:
        raise InputError(f"{file} cannot be written: {error.strerror}") from None
    say(f"Wrote {file}; check it with: coldbench bench check {file}")
