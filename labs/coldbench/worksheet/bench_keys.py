"""What the desk knows of sealed benches: what is wrong with each, and what proves it.

Two files of a lab's source folder hold it, one for practice benches and one for those assigned to
a class: `__practice_keys__.json` and `__keys__.json`, each with its problems (suspects, tests and
outcomes of every complaint) beside it. Names in double underscores stay at the desk: a build
leaves them out of the release. Without the files there is nothing to mark.

    keys.benches["4711"].part, keys.problem("4711")
"""

import gzip
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from coldbench.bench import Bench, load_bench
from coldbench.diagnosis.from_bench import BenchProblem, stored_problem
from coldbench.diagnosis.strategy.values import Values
from coldbench.errors import InputError

ASSIGNED = ("__keys__.json", "__problems__.json.gz")
PRACTICE = ("__practice_keys__.json", "__practice_problems__.json.gz")
FORM = 1
LARGEST_BYTES = 200_000_000


@dataclass(frozen=True)
class BenchKey:
    """A sealed bench as the desk knows it.

    number [opaque, as a learner sees it]; file [in the lab's folder]; bench [shipped name or
    path]; complaint; state [it is noticed in]; fault [id of the catalogue]; part [to put right];
    mode; family; place; right [pairs (part, mode) that no test tells apart, each right];
    best_minutes [expected, of the best path from the complaint]; difficulty_minutes [of the best
    path when this fault is present]; proves [tests of that path]; path [calls of a session that
    walk it, to the repair and the test run]; states [sealed].
    """

    number: str
    file: str
    bench: str
    complaint: str
    state: str
    fault: str
    part: str
    mode: str
    family: str
    place: str
    right: tuple[tuple[str, str], ...]
    best_minutes: float
    difficulty_minutes: float
    proves: tuple[str, ...]
    path: tuple[tuple[Any, ...], ...]
    states: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class BenchKeys:
    """The keys of some sealed benches; benches [number → key]; problems [complaint → plain]."""

    benches: Mapping[str, BenchKey]
    problems: Mapping[str, Mapping[str, Any]]
    seed: int | None = None

    def key(self, number: str) -> BenchKey:
        """Return the key of a bench. Raises: InputError naming the number."""
        if number not in self.benches:
            raise InputError(f"there is no key for bench {number}; assign the benches again")
        return self.benches[number]


def key_from(table: Mapping[str, Any]) -> BenchKey:
    """Return a key from its plain data."""
    lists = {name: tuple(table[name]) for name in ("proves", "states")}
    pairs = {name: tuple(tuple(one) for one in table[name]) for name in ("right", "path")}
    return BenchKey(**{**table, **lists, **pairs})


def write_keys(folder: Path, keys: BenchKeys, names: tuple[str, str] = ASSIGNED) -> None:
    """Write keys and problems into a lab's source folder, readable for their owner alone.

    folder; keys; names [of the two files]. Raises OSError.
    """
    table = {"form": FORM, "seed": keys.seed,
             "benches": [asdict(one) for one in keys.benches.values()]}
    text = json.dumps(table, ensure_ascii=False, indent=1).encode() + b"\n"
    packed = gzip.compress(json.dumps(keys.problems, separators=(",", ":")).encode(), mtime=0)
    for name, data in zip(names, (text, packed), strict=True):
        path = folder / name
        path.unlink(missing_ok=True)
        path.touch(0o600)
        path.write_bytes(data)


def read_keys(folder: Path, names: tuple[str, str]) -> BenchKeys:
    """Return the keys in a lab's source folder; empty where there are none.

    Raises InputError naming the file when it cannot be read.
    """
    path, packed = (folder / name for name in names)
    if not path.is_file():
        return BenchKeys({}, {})
    try:
        table = json.loads(path.read_text("utf-8"))
        with gzip.open(packed, "rb") as stream:
            problems = json.loads(stream.read(LARGEST_BYTES))
        if table["form"] != FORM:
            raise ValueError("another form")
        benches = [key_from(row) for row in table["benches"]]
    except (OSError, ValueError, KeyError, TypeError, gzip.zlib.error) as error:
        raise InputError(f"{folder.name}/{path.name}: cannot be read ({error}); assign the "
                         "benches again") from None
    return BenchKeys({one.number: one for one in benches}, problems, table.get("seed"))


@dataclass(frozen=True, eq=False)
class Complained:
    """A complaint ready for scoring: its problem, and values shared between learners."""

    problem: BenchProblem
    values: Values


class DeskKeys:
    """Every key in a lab's source folder, practice and assigned."""

    def __init__(self, folder: Path) -> None:
        self._found = [read_keys(folder, names) for names in (ASSIGNED, PRACTICE)]
        self._made: dict[tuple[int, str], Complained] = {}

    def key(self, number: str) -> BenchKey:
        """Return the key of a bench. Raises: InputError naming the number."""
        return self._of(number).key(number)

    def _of(self, number: str) -> BenchKeys:
        return next((keys for keys in self._found if number in keys.benches), self._found[0])

    def complained(self, number: str) -> Complained:
        """Return the complaint of a bench, made once. Raises: InputError."""
        keys, key = self._of(number), self.key(number)
        name = (id(keys), key.complaint)
        if name not in self._made:
            bench = _bench(key.bench)
            problem = stored_problem(bench, keys.problems[key.complaint])
            self._made[name] = Complained(problem, Values(problem.problem))
        return self._made[name]


@lru_cache(maxsize=4)
def _bench(name: str) -> Bench:
    return load_bench(name)


@lru_cache(maxsize=4)
def _kept(folder: Path, stamp: tuple) -> DeskKeys:
    return DeskKeys(folder)


def desk_keys(folder: Path) -> DeskKeys:
    """Return the keys of a lab's source folder; read once, and again when a file has changed."""
    files = [folder / name for name in (*ASSIGNED, *PRACTICE)]
    stamp = tuple(path.stat().st_mtime_ns if path.is_file() else 0 for path in files)
    return _kept(folder, stamp)
