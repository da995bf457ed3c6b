"""`coldbench bench seal`: a bench with a fault as a file of readings, without the fault."""

import errno
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, BinaryIO

import typer

from coldbench.cli.circuit import Texts
from coldbench.cli.say import say
from coldbench.errors import InputError


def command(
    bench: Annotated[str, typer.Argument(
        help="Name of a shipped bench, or a bench file ending in .toml.")],
    output: Annotated[Path, typer.Option(
        "-o", "--output", help="File to write; for instance bench-7.sealed.")],
    fault: Annotated[Texts, typer.Option(
        help='What is wrong, as `coldbench bench faults` lists it: "K1:coil_open", '
             '"undercharge=0.5"; may be given several times.')] = None,
    state: Annotated[Texts, typer.Option(
        help="Operating state to hold; may be given several times; all if left out.")] = None,
    key: Annotated[Path | None, typer.Option(
        help="File with your own secret key: the sealed file is signed with it.")] = None,
) -> None:
    """Write everything that can be measured at a bench into a file that does not name the fault."""
    from coldbench.bench import load_bench, seal

    loaded = load_bench(bench)
    secret = None if key is None else read_key(key)
    with _writable(output) as file:  # before the work, which takes a while
        data = seal(loaded, tuple(fault or ()), tuple(state) if state else None, secret)
        file.write(data)
    signed = ", signed" if secret else ""
    say(f"Sealed {loaded.title}{signed}: {output} ({len(data) / 1000:.0f} kB). Open it in a "
         f'notebook with sheet.bench_session("{output.name}").')


@contextmanager
def _writable(output: Path) -> Iterator[BinaryIO]:
    """Open a new file under another name, which takes the wanted one when all went well."""
    beside = output.with_name(f"{output.name}.part")
    try:
        if output.is_dir():
            raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR))
        file = beside.open("wb")
    except OSError as error:
        raise InputError(f"--output: {output} cannot be written: {error.strerror}") from None
    try:
        with file:
            yield file
        os.replace(beside, output)
    except OSError as error:
        raise InputError(f"--output: {output} cannot be written: {error.strerror}") from None
    finally:
        beside.unlink(missing_ok=True)


def read_key(path: Path) -> bytes:
    """Return the bytes of a key file.

    Parameters
    ----------
    path : Path
        Any file that others do not have, of 16 bytes or more.

    Returns
    -------
    bytes

    Raises
    ------
    InputError
        If it cannot be read or is too short.
    """
    try:
        found = path.read_bytes().strip()
    except OSError as error:
        raise InputError(f"--key: {path} cannot be read: {error.strerror}") from None
    if len(found) < 16:
        raise InputError(f"--key: {path} holds {len(found)} bytes; a key needs 16 or more")
    return found
