"""The lines of a measurement journal: how one is written, and what of a file can be believed.

A journal is a text file of JSON lines. A head line says whose it is; each further line is one
measurement and holds the hash of the line before it and a hash of its own, worked out together
with course, lab and learner:

    {"journal": 1, "course": …, "lab": …, "learner": …, "time": …, "hash": …}
    {"n": 1, "time": …, "instrument": …, "arguments": {…}, "settings": {…}, "reading": …,
     "unit": …, "uncertainty": …, "minutes": …, "note": …, "previous": …, "hash": …}

So a line that was changed, taken out, put in or copied from another journal shows. What this
cannot do: the program that writes journals is open, so whoever studies it can write one from
nothing, and the last lines can be cut off. Hence a mark never rests on the hashes alone: marking
works each reading out again (`kinds/journal.py`), and a made-up journal is worth no more than
what the learner's own circuit would have shown.

A new head starts a new chain: after another learner id was written into the notebook, and after
a line that cannot be read.

Source of the hash: SHA-256, FIPS 180-4. Chained hashes: Haber and Stornetta, How to time-stamp
a digital document, Journal of Cryptology 3 (1991), from memory.
"""

import hashlib
import json
import math
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from coldbench.errors import InputError
from coldbench.worksheet.cases import PRACTICE, case_identity
from coldbench.worksheet.records import plain
from coldbench.worksheet.spelling import one_line

LARGEST_BYTES = 400_000
MOST_ENTRIES = 1_000
LONGEST_LINE = 4_000
LONGEST_TEXT = 300
_DEEPEST = 5


@dataclass(frozen=True)
class Owner:
    """Whose journal it is; spellings of one learner id are one owner."""

    course: str
    lab: str
    learner: str

    @property
    def words(self) -> tuple[str, str, str]:
        """Course, lab and learner in the one spelling that hashes use."""
        return self.course, self.lab, case_identity(self.learner)


@dataclass(frozen=True)
class Entry:
    """One measurement.

    n [number in its file]; time [ISO 8601, UTC]; instrument ["voltmeter", …]; arguments [where
    it was put, plain data]; settings [what was switched and set, plain data; by custom "state"
    names it]; reading [number, word, or None: refused]; unit; uncertainty [± of the reading, same
    unit; None: not a number]; minutes [that it takes on a real bench]; note [a sentence or ""].
    """

    n: int
    time: str
    instrument: str
    arguments: Mapping[str, Any] = field(default_factory=dict)
    settings: Mapping[str, Any] = field(default_factory=dict)
    reading: float | str | None = None
    unit: str = ""
    uncertainty: float | None = None
    minutes: float = 0.0
    note: str = ""

    @property
    def state(self) -> str:
        """The named state the measurement was made in, or ""."""
        state = self.settings.get("state", "")
        return state if isinstance(state, str) else ""

    @property
    def bench(self) -> str:
        """Name of the bench it was made at, or "" in a lab with one bench."""
        bench = self.settings.get("bench", "")
        return bench if isinstance(bench, str) else ""

    @property
    def refused(self) -> bool:
        """True when the instrument gave no reading."""
        return self.reading is None

    @property
    def shown(self) -> str:
        """The reading as text, such as "12.61 V ± 0.08 V"."""
        if self.reading is None:
            return f"refused: {self.note}" if self.note else "refused"
        if isinstance(self.reading, str):
            return f"{self.reading} {self.unit}".strip()
        unit, scale = _UNITS.get(self.unit, self.unit), 1.0
        if self.unit in ("Ω", "ohm") and abs(self.reading) >= 1e5:
            unit, scale = "MΩ", 1e-6
        around = "" if self.uncertainty is None else f" ± {self.uncertainty * scale:.2g} {unit}"
        return f"{self.reading * scale:g} {unit}{around}".strip().replace("-", "−", self.reading < 0)

    def as_dict(self) -> dict[str, Any]:
        """The entry as plain data, without its hashes."""
        return {name: getattr(self, name) for name in _FIELDS}


_UNITS = {"degC": "°C", "ohm": "Ω", "W/m2": "W/m²"}
_FIELDS = tuple(Entry.__dataclass_fields__)


@dataclass(frozen=True)
class Findings:
    """What a journal's lines came to.

    entries [those that can be believed, in order]; damaged [numbers of lines that were changed
    or cannot be read]; broken [numbers of lines at a break of the chain: a line was taken out or
    put in there]; foreign [whose the other lines are → how many]; surplus [lines beyond the most
    that are read].
    """

    entries: tuple[Entry, ...] = ()
    damaged: tuple[int, ...] = ()
    broken: tuple[int, ...] = ()
    foreign: Mapping[str, int] = field(default_factory=dict)
    practice: int = 0
    surplus: int = 0

    @property
    def troubles(self) -> list[str]:
        """Say in sentences which lines do not count and why."""
        said = [f"{count} of another journal ({whose}) do not count." for whose, count in
                list(self.foreign.items())[:2]]
        if self.damaged:
            said.append(f"{_lines(self.damaged)} changed by hand, copied or damaged and "
                        f"{'does' if len(self.damaged) == 1 else 'do'} not count.")
        if self.broken:
            said.append(f"{_lines(self.broken)} at a place where lines were taken out, put in or "
                        "moved, and do not count.")
        if self.practice:
            said.append(f"{self.practice} made with the practice numbers do not count.")
        if self.surplus:
            said.append(f"{self.surplus} lines beyond the first {MOST_ENTRIES:,} measurements "
                        "were not read.")
        return said

    @property
    def tampered(self) -> bool:
        """True when lines were changed, taken out or put in, or the file was damaged."""
        return bool(self.damaged or self.broken)


def _lines(numbers: tuple[int, ...]) -> str:
    """Name some lines of the file.

    >>> _lines((4,)), _lines((4, 5, 9))
    ('Line 4 of the journal was', 'Lines 4, 5, 9 of the journal were')
    """
    shown = ", ".join(map(str, numbers[:6])) + (" …" if len(numbers) > 6 else "")
    one = len(numbers) == 1
    return f"Line{'' if one else 's'} {shown} of the journal {'was' if one else 'were'}"


def canonical(table: Mapping[str, Any]) -> str:
    """Write a table in the one way that hashes are made from.

    >>> canonical({"b": 1.0, "a": "Ω"})
    '{"a":"Ω","b":1.0}'
    """
    return json.dumps(table, ensure_ascii=False, sort_keys=True, separators=(",", ":"),
                      allow_nan=False)


def _hash(owner: Owner, table: Mapping[str, Any]) -> str:
    text = "\x1f".join(("coldbench journal", *owner.words, canonical(table)))
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def _sealed(owner: Owner, table: dict[str, Any]) -> tuple[str, str]:
    """Put a line's own hash at its end; returns (line, hash)."""
    seal = _hash(owner, table)
    return json.dumps({**table, "hash": seal}, ensure_ascii=False, allow_nan=False), seal


def head_line(owner: Owner, time: str) -> tuple[str, str]:
    """Write the line that starts a chain; returns (line, hash)."""
    return _sealed(owner, {"journal": 1, "course": owner.course, "lab": owner.lab,
                           "learner": owner.learner, "time": time})


def entry_line(owner: Owner, entry: Entry, previous: str) -> tuple[str, str]:
    """Write a measurement's line [previous: hash of the line before it]; returns (line, hash)."""
    return _sealed(owner, {**entry.as_dict(), "previous": previous})


def make_entry(n: int, time: str, instrument: str, arguments: Mapping[str, Any],
               settings: Mapping[str, Any], reading: Any, unit: str, uncertainty: Any,
               minutes: Any, note: str) -> Entry:
    """Make an entry out of what an instrument gave; raises InputError when it is not plain."""
    table = {"n": n, "time": time, "instrument": _text(instrument),
             "arguments": plain(dict(arguments), _DEEPEST),
             "settings": plain(dict(settings), _DEEPEST), "reading": plain(reading),
             "unit": _text(unit), "uncertainty": plain(uncertainty), "minutes": plain(minutes),
             "note": _text(note)}
    entry = _entry_of(table)
    if entry is None or len(canonical(table)) > LONGEST_LINE - 400:
        raise InputError(f"the measurement {one_line(instrument)!r} cannot go into the journal: "
                         f"it holds something too long or not a number where one is wanted")
    return entry


def _text(value: Any) -> str:
    return one_line(value, LONGEST_TEXT)


def _entry_of(table: Mapping[str, Any]) -> Entry | None:
    """Make an entry of untrusted plain data; None when something is not of its kind."""
    texts = ("time", "instrument", "unit", "note")
    sound = (set(table) == set(_FIELDS) and _is_whole(table["n"]) and table["n"] > 0
             and all(isinstance(table[name], str) and len(table[name]) <= LONGEST_TEXT
                     for name in texts)
             and isinstance(table["arguments"], dict) and isinstance(table["settings"], dict)
             and _is_reading(table["reading"]) and _is_number(table["minutes"])
             and table["minutes"] >= 0
             and (table["uncertainty"] is None
                  or _is_number(table["uncertainty"]) and table["uncertainty"] >= 0))
    return Entry(**table) if sound else None


def _is_whole(value: Any) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and abs(value) < 2**53


def _is_number(value: Any) -> bool:
    return _is_whole(value) or isinstance(value, float) and math.isfinite(value)


def _is_reading(value: Any) -> bool:
    return value is None or _is_number(value) or (
        isinstance(value, str) and len(value) <= LONGEST_TEXT)


def parse_line(line: str) -> dict[str, Any] | None:
    """Read one untrusted line; None when it is not a table."""
    if len(line) > LONGEST_LINE:
        return None
    try:
        table = json.loads(line)
        canonical(table)  # NaN and Infinity are no JSON
    except (ValueError, RecursionError):
        return None
    return table if isinstance(table, dict) else None


def head_owner(table: Mapping[str, Any]) -> Owner | None:
    """The owner a head line names; None when it is not a whole head line."""
    names = [table.get(name) for name in ("course", "lab", "learner")]
    if table.get("journal") != 1 or not all(isinstance(name, str) for name in names):
        return None
    owner = Owner(*names)
    return owner if _is_sealed(owner, table) else None


def _is_sealed(owner: Owner, table: Mapping[str, Any]) -> bool:
    """True when a line's hash fits its content and owner."""
    return table.get("hash") == _hash(owner, {k: v for k, v in table.items() if k != "hash"})


class _Reader:
    """Goes through a journal's lines once."""

    def __init__(self, owner: Owner):
        self.mine = owner
        self.chain: Owner | None = None  # whose lines these are
        self.last: str | None = None     # hash the next line must name; None: any
        self.before = 0                  # number of the line before
        self.found: dict[int, Entry] = {}
        self.damaged: list[int] = []
        self.broken: set[int] = set()
        self.foreign: Counter[str] = Counter()
        self.practice = 0

    def take(self, number: int, line: str) -> None:
        table = parse_line(line)
        if table is None:
            self.damaged.append(number)
            self.last = None
        elif "journal" in table:
            self._head(number, table)
        else:
            self._entry(number, table)
        self.before = number

    def _head(self, number: int, table: dict[str, Any]) -> None:
        self.chain = head_owner(table)
        self.last = table["hash"] if self.chain else None
        if self.chain is None:
            self.damaged.append(number)

    def _entry(self, number: int, table: dict[str, Any]) -> None:
        seal, previous = table.get("hash"), table.get("previous")
        if self.chain is not None and self.chain.words != self.mine.words:
            self._of_another(self.chain)
            return
        entry = _entry_of({k: v for k, v in table.items() if k not in ("hash", "previous")})
        if self.chain is None or entry is None or not _is_sealed(self.mine, table):
            self.damaged.append(number)
            self.last = seal if isinstance(seal, str) and self.last == previous else None
            return
        if self.last is not None and previous != self.last:
            self.broken |= {number, self.before}
        self.found[number], self.last = entry, seal

    def _of_another(self, chain: Owner) -> None:
        if chain.words[:2] == self.mine.words[:2] and chain.words[2] == PRACTICE:
            self.practice += 1
            return
        for kind, theirs, mine in zip(("course", "lab", "learner"), chain.words, self.mine.words,
                                      strict=True):
            if theirs != mine:
                self.foreign[f"{kind} {one_line(theirs, 40)!r}"] += 1
                return


def check_lines(lines: Iterable[str], owner: Owner) -> Findings:
    """Read a journal's lines, believing only what is whole and the owner's; never raises.

    lines [untrusted texts]; owner [whose measurements count].
    """
    reader, surplus, count = _Reader(owner), 0, 0
    for number, line in enumerate(lines, start=1):
        if not line.strip():
            continue
        count += 1
        # Heads count too: a file of nothing but heads must come to an end as well.
        if count > 2 * MOST_ENTRIES or len(reader.found) >= MOST_ENTRIES:
            surplus += 1
            continue
        reader.take(number, line)
    kept = [entry for number, entry in reader.found.items() if number not in reader.broken]
    broken = tuple(sorted(number for number in reader.broken if number in reader.found))
    return Findings(tuple(kept), tuple(reader.damaged), broken, dict(reader.foreign),
                    reader.practice, surplus)
