"""The pool of faults from which sealed benches are drawn, as an instructor writes it.

    bench = "blue"
    states = ["full cooling", "key on", "off"]     # held by the sealed files; all if left out
    least_suspects = 6                             # a complaint with fewer is no riddle
    least_minutes = 1.0                            # nor is a fault that a free look proves

    [families]                                     # three or more; * stands for any letters
    refrigerant = ["undercharge", "txv-*"]
    electrical = ["F*:blown", "K*:coil_open"]
    sensor = ["RT*", "PT*", "*door*"]
    control = ["head:*"]

In place of a file, `--pool` takes families and patterns between commas, such as
"electrical,sensor,undercharge,txv-*": those of the lab's own pool that fit.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from fnmatch import fnmatchcase
from pathlib import Path
from typing import Any

from coldbench.bench import Bench, BenchFault, catalogue
from coldbench.errors import InputError

FILE = "pool.toml"
LEAST_FAMILIES = 3
LEAST_SUSPECTS = 6
LEAST_MINUTES = 1.0


@dataclass(frozen=True)
class Pool:
    """What may be wrong.

    bench [name or path]; families [name → patterns of fault ids]; states [sealed; empty: all];
    suspects [patterns of the faults that count as suspects; empty: the whole catalogue];
    complaints [symptoms of the bench file to choose from; empty: all]; least_suspects [of a
    complaint]; least_minutes [of the best path to a fault].
    """

    bench: str
    families: Mapping[str, tuple[str, ...]]
    states: tuple[str, ...] = ()
    suspects: tuple[str, ...] = ()
    complaints: tuple[str, ...] = ()
    least_suspects: int = LEAST_SUSPECTS
    least_minutes: float = LEAST_MINUTES

    def faults(self, bench: Bench) -> dict[str, tuple[BenchFault, ...]]:
        """Return the faults of each family; a fault belongs to the first that names it.

        Raises InputError for a pattern that fits no fault of the bench.
        """
        found: dict[str, dict[str, BenchFault]] = {name: {} for name in self.families}
        taken: set[str] = set()
        for family, patterns in self.families.items():
            for pattern in patterns:
                fits = [one for one in catalogue(bench) if fnmatchcase(one.id, pattern)]
                if not fits:
                    raise InputError(f"{FILE}: {family}: {pattern!r} fits no fault of {bench.name}")
                found[family] |= {one.id: one for one in fits if one.id not in taken}
            taken |= set(found[family])
        return {name: tuple(faults.values()) for name, faults in found.items()}

    def suspect_ids(self, bench: Bench) -> tuple[str, ...] | None:
        """Return ids of the faults that count as suspects; None: the whole catalogue."""
        if not self.suspects:
            return None
        patterns = [*self.suspects, *(p for many in self.families.values() for p in many)]
        return tuple(one.id for one in catalogue(bench)
                     if any(fnmatchcase(one.id, pattern) for pattern in patterns))


def read_pool(path: Path) -> Pool:
    """Read a pool's file; raises InputError with file, key and reason."""
    try:
        table = tomllib.loads(path.read_text("utf-8-sig"))
    except OSError as error:
        raise InputError(f"{path.name} cannot be read: {error.strerror}") from None
    except UnicodeDecodeError:
        raise InputError(f"{path.name} is not text in UTF-8") from None
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{path.name} is not valid TOML: {error}") from None
    return pool_from(table, path.name)


def pool_from(table: Mapping[str, Any], file: str = FILE) -> Pool:
    """Return a pool from its table; raises InputError with file, key and reason.

    >>> pool_from({"bench": "blue", "families": {"a": ["F*"], "b": ["K*"], "c": ["M*"]}}).bench
    'blue'
    """
    known = set(Pool.__dataclass_fields__)
    if unknown := set(table) - known:
        raise InputError(f"{file}: {sorted(unknown)[0]}: unknown key; accepted are "
                         f"{', '.join(sorted(known))}")
    families = table.get("families")
    if not isinstance(families, dict) or len(families) < LEAST_FAMILIES:
        raise InputError(f"{file}: families: wants a table of {LEAST_FAMILIES} or more families, "
                         "each a list of fault ids or patterns")
    lists = {key: _texts(table[key], f"{file}: {key}")
             for key in ("states", "suspects", "complaints") if key in table}
    least = table.get("least_suspects", LEAST_SUSPECTS)
    if not isinstance(least, int) or isinstance(least, bool) or not 2 <= least <= 100:
        raise InputError(f"{file}: least_suspects: must be a whole number from 2 to 100")
    minutes = table.get("least_minutes", LEAST_MINUTES)
    if not isinstance(minutes, int | float) or isinstance(minutes, bool) or not 0 <= minutes <= 60:
        raise InputError(f"{file}: least_minutes: must be a number from 0 to 60")
    if not isinstance(table.get("bench"), str):
        raise InputError(f"{file}: bench: must be the name of a bench or the path of its file")
    named = {name: _texts(patterns, f"{file}: families.{name}")
             for name, patterns in families.items()}
    return Pool(table["bench"], named, least_suspects=least, least_minutes=minutes, **lists)


def _texts(value: Any, where: str) -> tuple[str, ...]:
    if not isinstance(value, list) or not value or not all(
            isinstance(one, str) and one for one in value):
        raise InputError(f"{where}: must be a list of texts, none of them empty")
    return tuple(value)


def chosen_pool(words: str | None, own: Path) -> Pool:
    """Return the pool an instructor asked for.

    words [path of a file ending in .toml; or families and patterns between commas; None: the
    lab's own]; own [file of the lab's own pool]. Raises InputError.
    """
    if words is None:
        return read_pool(own)
    if words.endswith(".toml"):
        return read_pool(Path(words))
    return narrowed(read_pool(own), [one.strip() for one in words.split(",") if one.strip()])


def narrowed(pool: Pool, words: list[str]) -> Pool:
    """Return what some families and patterns leave of a pool.

    Raises InputError when fewer than three families are left.

    >>> pool = pool_from({"bench": "blue", "families": {
    ...     "a": ["F1:blown", "F2:blown"], "b": ["K*"], "c": ["M*"]}})
    >>> narrowed(pool, ["F1*", "b", "c"]).families["a"]
    ('F1:blown',)
    """
    kept = {}
    for family, patterns in pool.families.items():
        fits = patterns if family in words else tuple(
            one for one in patterns if any(fnmatchcase(one, word) for word in words))
        if fits:
            kept[family] = fits
    for word in words:
        if not any(family == word or any(fnmatchcase(one, word) for one in patterns)
                   for family, patterns in pool.families.items()):
            raise InputError(f"--pool: {word!r} is no family of the lab's pool "
                             f"({', '.join(pool.families)}), fits none of its patterns, and is no "
                             "file ending in .toml")
    if len(kept) < LEAST_FAMILIES:
        raise InputError(f"--pool leaves {len(kept)} families of faults ({', '.join(kept) or 'none'}"
                         f"); {LEAST_FAMILIES} or more are wanted, out of "
                         f"{', '.join(pool.families)}")
    return replace(pool, families=kept)
