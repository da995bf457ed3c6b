"""Tables of readings kept in the user's cache folder, so that they are simulated once.

One compressed JSON file for each bench as it is and each version of the program. A file that
cannot be read, or does not say what it should, counts as absent. Old files of the same bench are
taken away when a new one is written. `COLDBENCH_CACHE` names another folder; "off" keeps nothing.
"""

import contextlib
import gzip
import json
import math
import os
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from coldbench.bench import Bench
from coldbench.diagnosis.from_bench.fingerprint import fingerprint
from coldbench.diagnosis.from_bench.table import Case, Key, Row

FORM = 1
MOST_BYTES = 200_000_000
VARIABLE = "COLDBENCH_CACHE"


@dataclass(frozen=True)
class Store:
    """Rows that are known: rows [(state, case) → row], keys [key → unit, words], failed."""

    rows: Mapping[tuple[str, Case], Row] = field(default_factory=dict)
    keys: Mapping[str, Key] = field(default_factory=dict)
    failed: Mapping[tuple[str, Case], str] = field(default_factory=dict)

    def joined(self, other: "Store") -> "Store":
        """Return this store with another one's rows added."""
        return Store({**self.rows, **other.rows}, {**self.keys, **other.keys},
                     {**self.failed, **other.failed})


def folder() -> Path | None:
    """Return the cache folder, None where nothing is to be kept."""
    chosen = os.environ.get(VARIABLE, "")
    if chosen.lower() == "off":
        return None
    if chosen:
        return Path(chosen)
    if os.name == "nt":
        base = os.environ.get("LOCALAPPDATA")
    else:
        base = os.environ.get("XDG_CACHE_HOME")
    try:
        return (Path(base) if base else Path.home() / ".cache") / "coldbench"
    except RuntimeError:  # no home folder
        return None


def _path(bench: Bench) -> Path | None:
    where = folder()
    name = "".join(letter if letter.isalnum() else "-" for letter in bench.name)
    return where and where / f"table-{name}-{fingerprint(bench)}.json.gz"


def load(bench: Bench) -> Store:
    """Return what the cache holds of a bench; an empty store where it holds nothing usable.

    Parameters
    ----------
    bench : Bench
        The bench.

    Returns
    -------
    Store
    """
    path = _path(bench)
    if path is None:
        return Store()
    try:
        if path.stat().st_size > MOST_BYTES:
            return Store()
        with gzip.open(path, "rt", encoding="utf-8") as file:
            return _store(json.load(file))
    except (OSError, EOFError, ValueError, TypeError, KeyError, RecursionError,
            AttributeError, IndexError, gzip.zlib.error):
        return Store()


def _store(data: dict) -> Store:
    """A store from plain data; raises ValueError and the like when it is none."""
    if data["form"] != FORM:
        raise ValueError("another form")
    names = [str(name) for name in data["keys"]]
    keys = {name: Key(str(unit), str(label)) for name, (unit, label) in data["keys"].items()}
    rows = {}
    for state, case, places, numbers in data["rows"]:
        pairs = zip(numbers[::2], numbers[1::2], strict=True)
        rows[_pair(state, case)] = {
            names[place]: (math.nan if value is None else float(value), float(around))
            for place, (value, around) in zip(places, pairs, strict=True)}
    failed = {_pair(state, case): str(reason) for state, case, reason in data["failed"]}
    return Store(rows, keys, failed)


def _pair(state: str, case: list) -> tuple[str, Case]:
    if not isinstance(state, str) or not all(isinstance(one, str) for one in case):
        raise ValueError("state or case is no text")
    return state, tuple(case)


def _plain(store: Store) -> dict:
    place = {name: n for n, name in enumerate(store.keys)}
    rows = [[state, list(case), [place[key] for key in row],
             [None if math.isnan(number) else number for pair in row.values() for number in pair]]
            for (state, case), row in store.rows.items()]
    return {"form": FORM, "keys": {name: list(key) for name, key in store.keys.items()},
            "rows": rows, "failed": [[state, list(case), reason]
                                     for (state, case), reason in store.failed.items()]}


def save(bench: Bench, store: Store) -> None:
    """Write a store into the cache, whole or not at all; where that cannot be, say nothing.

    Parameters
    ----------
    bench : Bench
        The bench.
    store : Store
        Rows.
    """
    path = _path(bench)
    if path is None:
        return
    with contextlib.suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=path.parent, suffix=".part")
        try:
            with os.fdopen(handle, "wb") as raw, gzip.open(raw, "wb", compresslevel=3) as file:
                file.write(json.dumps(_plain(store), separators=(",", ":")).encode())
            os.replace(name, path)
        except OSError:
            Path(name).unlink(missing_ok=True)
            raise
        for old in path.parent.glob(path.name.replace(fingerprint(bench), "?" * 40)):
            if old != path:
                old.unlink(missing_ok=True)
