"""A short name for what a table of readings depends on: the bench's content and the program."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import coldbench
from coldbench.bench import Bench

_LEFT_OUT = {"memory", "file"}


def fingerprint(bench: Bench) -> str:
    """Return a hash that changes with the bench, the package's version and its program text.

    SHA-256 over the bench as plain data, the version, and the files of the rooms that readings
    come from.

    Parameters
    ----------
    bench : Bench
        From `load_bench`.

    Returns
    -------
    str
        Hexadecimal digits.

    Examples
    --------
    >>> from coldbench.bench import load_bench
    >>> fingerprint(load_bench("blue")) == fingerprint(load_bench("blue"))
    True
    """
    text = json.dumps(_plain(bench), sort_keys=True)
    whole = f"{coldbench.__version__}\n{_program()}\n{text}"
    return hashlib.sha256(whole.encode()).hexdigest()[:40]


@lru_cache(maxsize=1)
def _program() -> str:
    """Hash of the package's files that decide a reading."""
    root = Path(coldbench.__file__).parent
    rooms = ("quantity", "air", "refrigerant", "electrical", "sensing", "control", "bench")
    own = [root / "diagnosis" / "from_bench" / name for name in ("cache.py", "work.py")]
    digest = hashlib.sha256()
    for path in sorted([*own, *(p for room in rooms for p in (root / room).rglob("*")
                                if p.suffix in (".py", ".toml"))]):
        digest.update(path.relative_to(root).as_posix().encode())
        digest.update(path.read_bytes())
    return digest.hexdigest()


def _plain(value: Any) -> Any:
    """Nested data classes as lists and dicts that JSON writes the same way every time."""
    if is_dataclass(value) and not isinstance(value, type):
        return [type(value).__name__, {f.name: _plain(getattr(value, f.name))
                                       for f in fields(value) if f.name not in _LEFT_OUT}]
    if isinstance(value, Mapping):
        return {str(key): _plain(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(one) for one in value]
    if isinstance(value, set | frozenset):
        return sorted(json.dumps(_plain(one), sort_keys=True) for one in value)
    if value is None or isinstance(value, bool | int | float | str):
        return value
    return getattr(value, "__qualname__", type(value).__qualname__)
