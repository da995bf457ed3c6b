"""A measurement journal: what was measured counts, as far as the circuit could have shown it.

In the notebook the answer cell ends in `sheet.answer_journal("measurements")`. A hidden check
says which measurements are wanted and how each reading is worked out again:

    sheet.mark("measurements",
               key={"a voltage drop across relay 1": Wanted("voltmeter", state="low",
                                                            points=("K1.30", "K1.87")),
                    "two or more readings with the fans on high": Wanted(state="high", count=2)},
               expected=bench.expected)

`expected(entry)` returns (value, unit, uncertainty), with a word in place of the value where the
instrument shows a word, or None when no reading can be had there (the instrument refuses). A
reading further off than that uncertainty earns nothing and is named; the uncertainty that the
journal itself states widens nothing. The names of what is wanted are shown to the learner whose
journal lacks it.
"""

import math
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any, ClassVar

from coldbench.errors import InputError
from coldbench.worksheet.entries import Entry, Findings, Owner, check_lines
from coldbench.worksheet.kinds.base import Answer, Question
from coldbench.worksheet.marks import Mark, Mistake, named_mistake
from coldbench.worksheet.spelling import exact, one_line, quoted

Expected = Callable[[Entry], "tuple[float | str, str, float] | None"]
IMPOSSIBLE = "readings the circuit could not have given"
CHANGED = "journal changed by hand or damaged"
FOREIGN = "another learner's journal"
MOST_NAMED = 3


@dataclass(frozen=True)
class Wanted:
    """A measurement that a journal should hold.

    instrument ["" = any]; state [named state; "" = any]; bench [its name; "" = any]; points [where red and black lead were,
    in either order; each a name, or several names of which one will do]; count [how often, each
    at other places or in other settings]; weight [against the other wanted measurements]; test
    [entry → bool: anything else that must hold]. A refused measurement does not count, unless
    `refused` is true: then only those do.

    >>> drop = Wanted("voltmeter", state="low", points=("K1.30", "K1.87"))
    >>> drop.fits(Entry(1, "", "Voltmeter", {"red": "K1.87", "black": "K1.30"},
    ...                 {"state": "low"}, -0.02, "V", 0.01))
    True
    """

    instrument: str = ""
    state: str = ""
    points: tuple[Any, ...] = ()
    count: int = 1
    weight: float = 1.0
    test: Callable[[Entry], bool] | None = None
    refused: bool = False
    bench: str = ""

    def __post_init__(self) -> None:
        if not isinstance(self.count, int) or self.count < 1:
            raise InputError(f"a wanted count must be 1 or more, not {self.count!r}")
        if not isinstance(self.weight, (int, float)) or not 0 < self.weight < math.inf:
            raise InputError(f"a wanted weight must be above 0, not {self.weight!r}")
        if len(self.points) not in (0, 1, 2):
            raise InputError("wanted points are none, one or two")

    def fits(self, entry: Entry) -> bool:
        """True when a measurement is a wanted one."""
        return (entry.refused == self.refused
                and _alike(self.instrument, entry.instrument) and _alike(self.state, entry.state)
                and _alike(self.bench, entry.bench)
                and self._at_points(entry)
                and (self.test is None or _holds(self.test, entry)))

    def _at_points(self, entry: Entry) -> bool:
        put = [str(value) for value in entry.arguments.values()]
        wanted = [{point} if isinstance(point, str) else {str(name) for name in point}
                  for point in self.points]
        if len(wanted) == 2:
            one, other = wanted
            return any(a in one and b in other for i, a in enumerate(put)
                       for j, b in enumerate(put) if i != j)
        return all(any(place in names for place in put) for names in wanted)


def _holds(test: Callable[[Any], Any], what: Any) -> bool:
    """Ask a lab's own test about a stranger's words: what it cannot read does not hold."""
    try:
        return bool(test(what))
    except Exception:
        return False


def _alike(wanted: str, found: str) -> bool:
    return not wanted or exact(wanted) == exact(found)


@dataclass(frozen=True)
class JournalAnswer(Answer):
    """A journal as answered; its value is the measurements that can be believed [Entry]."""

    findings: Findings = Findings()
    remade: bool = False


@dataclass(frozen=True)
class JournalQuestion(Question):
    """A question answered by the measurement journal; owner [whose measurements count]."""

    owner: Owner | None = None
    rules: ClassVar[tuple[str, ...]] = ("expected", "most")
    largest_record: ClassVar[int] = 1_000_000

    @classmethod
    def table_keys(cls) -> tuple[str, ...]:
        return ()

    def bound(self, course: str, lab: str, learner: str) -> "JournalQuestion":
        return replace(self, owner=Owner(course, lab, learner))

    @property
    def wanted(self) -> str:
        return f'sheet.answer_journal("{self.name}") after you have measured'

    def read(self, value: Any, unit: Any = None) -> JournalAnswer:
        lines = value.get("journal") if isinstance(value, dict) else None
        if not isinstance(lines, list) or self.owner is None:
            raise InputError(f"{quoted(value)} is not a journal; write {self.wanted}")
        findings = check_lines((line if isinstance(line, str) else "?" for line in lines),
                               self.owner)
        return JournalAnswer(findings.entries, summary(findings.entries),
                             _in_a_sentence(findings.troubles), findings=findings,
                             remade=value.get("remade") is True)

    def mark(self, answer: JournalAnswer, key: Mapping[str, Any],
             mistakes: Mapping[str, Any] = {},  # noqa: B006
             expected: Expected | None = None, most: int | None = None) -> Mark:
        """Mark a journal by the wanted measurements it holds.

        key [name → Wanted, or a function entry → bool]; expected [entry → (value, unit, ±), see
        the module]; most [measurements, refused ones too, beyond which each further one costs a
        twentieth, at most half]; mistakes [name → a function of all entries → bool, or a Mistake
        of one whose share multiplies what was earned].
        """
        wanted = _wanted(key)
        good, impossible = sift(answer.value, expected)
        found = {name: _found(want, good) for name, want in wanted.items()}
        share = (sum(want.weight * found[name] for name, want in wanted.items())
                 / sum(want.weight for want in wanted.values()))
        share, extra = _less_surplus(share, len(answer.value), most)
        share, name, said = _foreseen(mistakes, answer.value, share)
        name = name or _trouble(answer.findings, impossible)
        reason = [*said, *_missing(wanted, found), *extra, *_named(impossible),
                  *answer.findings.troubles]
        if answer.remade and good:
            reason.append("No journal file came with the notebook, so the measurements that its "
                          "cells made again were marked.")
        clean = share >= 1 and not said
        return self.decided(answer, share, " ".join((["Right."] if clean else []) + reason),
                            key="; ".join(wanted), mistake=name)


def _in_a_sentence(troubles: list[str]) -> str:
    """Troubles as they follow the words "recorded as …, but"."""
    text = " ".join(troubles)
    return text[:1].lower() + text[1:]


def summary(entries: Iterable[Entry]) -> str:
    """Say in a line what a journal holds.

    >>> summary([Entry(1, "", "voltmeter", reading=1.0), Entry(2, "", "ohmmeter", minutes=2)])
    '2 measurements (voltmeter 1, ohmmeter 1), 1 of them refused; 2 min'
    """
    entries = list(entries)
    kinds = Counter(one_line(entry.instrument, 30) for entry in entries)
    named = ", ".join(f"{name} {count}" for name, count in kinds.most_common(6))
    refused = sum(entry.refused for entry in entries)
    minutes = sum(entry.minutes for entry in entries)
    text = f"{len(entries)} measurement{'' if len(entries) == 1 else 's'}"
    text += f" ({named})" if named else ""
    text += f", {refused} of them refused" if refused else ""
    return text + (f"; {minutes:g} min" if 0 < minutes < 1e6 else "")


def sift(entries: Iterable[Entry], expected: Expected | None,
         ) -> tuple[list[Entry], list[Entry]]:
    """Part measurements into those the circuit could have shown, and the others."""
    good: list[Entry] = []
    impossible: list[Entry] = []
    for entry in entries:
        (good if expected is None or _could_be(entry, expected) else impossible).append(entry)
    return good, impossible


def _could_be(entry: Entry, expected: Expected) -> bool:
    try:
        found = expected(entry)
    except Exception:  # places and settings are a stranger's words; whatever they name
        return False
    if found is None or entry.reading is None:
        return found is None and entry.reading is None
    value, unit, uncertainty = found
    if exact(unit) != exact(entry.unit):
        return False
    if isinstance(value, str) or isinstance(entry.reading, str):
        return isinstance(value, str) and exact(str(entry.reading)) == exact(value)
    around = abs(float(uncertainty)) * (1 + 1e-9) + 1e-12 * abs(float(value))
    return abs(float(entry.reading) - float(value)) <= around


def _wanted(key: Any) -> dict[str, Wanted]:
    if not isinstance(key, Mapping) or not key:
        raise InputError("the key of a journal is a table: name → Wanted")
    wanted = {name: want if isinstance(want, Wanted) else Wanted(test=want)
              for name, want in key.items()}
    for name, want in wanted.items():
        if want.test is not None and not callable(want.test):
            raise InputError(f"{name!r} in the key of a journal is neither Wanted nor a function")
    return wanted


def _found(want: Wanted, entries: Iterable[Entry]) -> float:
    """Share of the wanted count that was found [0 to 1]."""
    places = {str((entry.instrument, sorted(map(str, entry.arguments.values())),
                   str(entry.settings)))
              for entry in entries if want.fits(entry)}
    return min(len(places) / want.count, 1.0)


def _less_surplus(share: float, count: int, most: int | None) -> tuple[float, list[str]]:
    surplus = 0 if most is None else max(0, count - most)
    if not surplus:
        return share, []
    return share * (1 - min(0.05 * surplus, 0.5)), [
        f"{count} measurements are more than the {most} that are enough."]


def _foreseen(mistakes: Mapping[str, Any], entries: tuple[Entry, ...], share: float,
              ) -> tuple[float, str, list[str]]:
    for name, given in mistakes.items():
        mistake = given if isinstance(given, Mistake) else Mistake(given, 1.0)
        if mistake.value is not None and _holds(mistake.value, entries):
            said = named_mistake(name, replace(mistake, share=min(mistake.share, 0.99)))
            return share * mistake.share, name, [said]
    return share, "", []


def _trouble(findings: Findings, impossible: list[Entry]) -> str:
    if impossible:
        return IMPOSSIBLE
    if findings.foreign:
        return FOREIGN
    return CHANGED if findings.tampered else ""


def _missing(wanted: Mapping[str, Wanted], found: Mapping[str, float]) -> list[str]:
    lacking = [one_line(name, 80) for name in wanted if found[name] < 1]
    if not lacking:
        return []
    more = f"; and {len(lacking) - MOST_NAMED} more" if len(lacking) > MOST_NAMED else ""
    return [f"{len(wanted) - len(lacking)} of {len(wanted)} wanted measurements found. "
            f"Not found: {'; '.join(lacking[:MOST_NAMED])}{more}."]


def _named(impossible: list[Entry]) -> list[str]:
    if not impossible:
        return []
    shown = "; ".join(one_line(f"no. {entry.n} ({entry.instrument}, {entry.shown})", 70)
                      for entry in impossible[:MOST_NAMED])
    more = f" and {len(impossible) - MOST_NAMED} more" if len(impossible) > MOST_NAMED else ""
    return [f"Your circuit could not have given {shown}{more}; such readings do not count."]
