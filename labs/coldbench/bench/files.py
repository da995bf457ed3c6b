"""Bench files: read, checked, turned into a `Bench`. Every complaint names file, key, reason."""

import tomllib
from functools import lru_cache
from importlib import resources
from pathlib import Path

from coldbench.bench.build import made
from coldbench.bench.model import Bench
from coldbench.errors import InputError, toml_trouble

_NOT_BENCHES = ("template.toml", "instruments.toml", "repairs.toml")


def _folder():
    return resources.files("coldbench.bench").joinpath("data")


def shipped_benches() -> tuple[str, ...]:
    """Names of the benches that come with the package.

    >>> "blue" in shipped_benches()
    True
    """
    return tuple(sorted(f.name.removesuffix(".toml") for f in _folder().iterdir()
                        if f.name.endswith(".toml") and f.name not in _NOT_BENCHES))


def load_bench(name_or_path: str | Path) -> Bench:
    """Return a bench by its shipped name, or from a TOML file.

    Parameters
    ----------
    name_or_path : str or Path
        "blue" for example, or a path ending in .toml.

    Returns
    -------
    Bench
        Checked. A shipped one is the same object at every call.

    Raises
    ------
    InputError
        Naming file, key and reason.

    Examples
    --------
    >>> load_bench("blue").loop.fluid
    'R134a'
    """
    if str(name_or_path) in shipped_benches():
        return _shipped(str(name_or_path))
    path = Path(name_or_path)
    if path.suffix != ".toml":
        raise InputError(f"no bench {str(name_or_path)!r}; accepted are "
                         f"{', '.join(shipped_benches())}, or a path ending in .toml")
    try:
        text = path.read_text("utf-8-sig")
    except OSError as error:
        raise InputError(f"bench file {path} cannot be read: {error.strerror}") from None
    except UnicodeDecodeError:
        raise InputError(f"bench file {path} is not UTF-8 text") from None
    return parse_bench(text, path.name, path.parent)


@lru_cache
def _shipped(name: str) -> Bench:
    return parse_bench(_folder().joinpath(f"{name}.toml").read_text("utf-8"), f"{name}.toml",
                       Path(str(_folder())))


def parse_bench(text: str, file: str = "bench.toml", folder: Path | None = None) -> Bench:
    """Return a checked bench from the text of a file.

    Parameters
    ----------
    text : str
        TOML.
    file : str
        Its name, for messages; the bench's name must agree with it.
    folder : Path, optional
        Where the files it names are; the working folder if left out.

    Returns
    -------
    Bench

    Raises
    ------
    InputError
        Naming file, key and reason.

    Examples
    --------
    >>> parse_bench("name = 'x'", "mine.toml")
    Traceback (most recent call last):
    coldbench.errors.InputError: mine.toml: name is 'x'; it must be the file's name without .toml, 'mine'
    """
    folder = folder or Path()
    return made(_with_base(_toml(text, file), file), file, folder)


def _toml(text: str, file: str) -> dict:
    try:
        return tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise InputError(f"{file}: {toml_trouble(error, text)}") from None


def _with_base(tables: dict, file: str) -> dict:
    """A bench that says `like = NAME` takes from that bench what it does not say itself."""
    if "like" not in tables:
        return tables
    base, own = tables["like"], {key: v for key, v in tables.items() if key != "like"}
    if not isinstance(base, str) or base not in shipped_benches() or base == own.get("name"):
        raise InputError(f"{file}: like is {base!r}; accepted are {', '.join(shipped_benches())}")
    before = _toml(_folder().joinpath(f"{base}.toml").read_text("utf-8"), f"{base}.toml")
    if "like" in before:
        raise InputError(f"{file}: like: {base} is itself like another bench")
    return _laid_over(before, own)


def replaced_lists(name_or_path: str | Path) -> tuple[str, ...]:
    """Say which lists of a `like` bench a file puts its own in the place of.

    Parameters
    ----------
    name_or_path : str or Path
        As for `load_bench`.

    Returns
    -------
    tuple of str
        One sentence for each list; none for a file that cannot be read.

    Examples
    --------
    >>> replaced_lists("blue")
    ()
    """
    path = Path(name_or_path)
    try:
        own = tomllib.loads(path.read_text("utf-8-sig")) if path.suffix == ".toml" else {}
        base = _toml(_folder().joinpath(f"{own['like']}.toml").read_text("utf-8"), "")
    except (OSError, ValueError, KeyError, RecursionError):
        return ()
    return tuple(
        f"{path.name}: [[{key}]]: what this file lists ({len(value)}) takes the place of the whole "
        f"list of the {own['like']} bench ({len(base[key])}); copy those that stay from "
        f"labs/coldbench/bench/data/{own['like']}.toml" for key, value in own.items()
        if isinstance(value, list) and isinstance(base.get(key), list))


def _laid_over(before: dict, own: dict) -> dict:
    """Tables merged key by key; lists and values replaced."""
    merged = dict(before)
    for key, value in own.items():
        both = isinstance(value, dict) and isinstance(before.get(key), dict)
        merged[key] = _laid_over(before[key], value) if both else value
    return merged
