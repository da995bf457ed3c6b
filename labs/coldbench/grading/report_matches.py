"""Answers that fit somebody else's numbers.

Every learner has numbers of her own. A wrong answer that lies within tolerance of *another*
learner's key is a hint that numbers went from hand to hand; but bands are wide and classes are
large, so single hits happen by chance. Each pair is therefore compared with what chance would
do: for each number, the share of all wrong answers that hit a random other learner's key, the
pair itself left out. A pair is listed only when a class like this would rarely show one like it.
It is a reason to look, never a proof.

Not compared: right answers, answers whose mistake was named (they have an explanation), and
learners whose keys lie closer together than their tolerances.
"""

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from coldbench.grading.record import Record
from coldbench.grading.statistics import chance_of_at_least
from coldbench.worksheet.marks import Mark

FEWEST_HITS = 2
# Such pairs expected in the class by chance. The bar is high because the sum takes a learner's
# numbers as independent, while one wrong start, such as the air, shifts several that follow.
RARE = 0.01
Column = dict[str, "Entry"]


@dataclass(frozen=True)
class Entry:
    """One number of one learner [SI]; wrong [answered, not right, no mistake named]."""

    answer: float | None
    key: float
    tolerance: float
    wrong: bool

    def apart(self, other: "Entry") -> bool:
        """Whether two learners' keys differ enough to tell whose number it is."""
        return abs(self.key - other.key) > self.tolerance + other.tolerance

    def fits(self, other: "Entry") -> bool:
        """Whether this learner's answer would be right for another learner."""
        return self.answer is not None and abs(self.answer - other.key) <= other.tolerance


@dataclass(frozen=True)
class Match:
    """Wrong numbers of `learner` that fit the numbers of `other`.

    hits [how many]; compared [how many of the learner's wrong numbers could be told apart];
    identical [hits where both wrote the very same number]; expected_hits [by chance];
    expected_pairs [pairs like this in the class by chance].
    """

    learner: str
    other: str
    questions: tuple[str, ...]
    hits: int
    compared: int
    identical: int
    expected_hits: float
    expected_pairs: float


def find_matches(records: Iterable[Record]) -> tuple[list[Match], int]:
    """Find pairs worth a look, rarest first, and count all single hits.

    Returns (matches, number of wrong answers that fit at least one other learner).
    """
    columns = number_columns(records)
    hits: dict[tuple[str, str], list[tuple[str, str]]] = defaultdict(list)
    eligible: dict[tuple[str, str], int] = {}
    total: dict[tuple[str, str], int] = {}
    single = 0
    for name, column in columns.items():
        found, eligible[name] = column_hits(column)
        total[name] = len(found)
        single += len({learner for learner, _ in found})
        for pair in found:
            hits[pair].append(name)
    pairs = _pairs_compared(columns)
    made = [_match(pair, names, columns, total, eligible, pairs)
            for pair, names in hits.items() if len(names) >= FEWEST_HITS]
    kept = [match for match in made if match.expected_pairs < RARE]
    return sorted(kept, key=lambda m: (m.expected_pairs, m.learner, m.other)), single


def number_columns(records: Iterable[Record]) -> dict[tuple[str, str], Column]:
    """Sort every number of the class by (question, place in its table or "")."""
    columns: dict[tuple[str, str], Column] = defaultdict(dict)
    for record in records:
        for cell in record.cells:
            for mark in cell.marks:
                for place, entry in _entries(mark):
                    columns[(mark.question, place)][record.learner] = entry
    return columns


def _entries(mark: Mark) -> Iterable[tuple[str, Entry]]:
    keys, answers, widths = mark.key_si, mark.answer_si, mark.tolerance_si
    if isinstance(keys, Mapping):
        answers = answers if isinstance(answers, Mapping) else {}
        for place, key in keys.items():
            width = widths.get(place) if isinstance(widths, Mapping) else widths
            yield from _entry(place, answers.get(place), key, width, mark)
    else:
        yield from _entry("", answers, keys, widths, mark)


def _entry(place: str, answer: Any, key: Any, width: Any, mark: Mark,
           ) -> Iterable[tuple[str, Entry]]:
    if not _is_number(key) or not _is_number(width):
        return
    answer = float(answer) if _is_number(answer) else None
    wrong = answer is not None and abs(answer - key) > width and not mark.mistake
    yield place, Entry(answer, float(key), float(width), wrong)


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool) and abs(value) < 1e300


def column_hits(column: Column) -> tuple[list[tuple[str, str]], int]:
    """Hits in one number: pairs (learner, other), and how many comparisons were made."""
    ordered = sorted((entry.key, learner) for learner, entry in column.items())
    keys = [key for key, _ in ordered]
    widest = max((entry.tolerance for entry in column.values()), default=0.0)

    def near(centre: float, reach: float) -> list[str]:
        reach += 1e-9 * (reach + abs(centre))  # rounding; who is really near is asked below
        return [who for _, who in ordered[bisect_left(keys, centre - reach):
                                          bisect_right(keys, centre + reach)]]

    found, comparisons = [], 0
    for learner, entry in column.items():
        if entry.wrong:
            alike = sum(not entry.apart(column[who])
                        for who in near(entry.key, entry.tolerance + widest))
            comparisons += len(column) - alike
            found += [(learner, who) for who in near(entry.answer, widest)
                      if entry.fits(column[who]) and entry.apart(column[who])]
    return found, comparisons


def _pairs_compared(columns: Mapping[Any, Column]) -> int:
    everybody = {who for column in columns.values() for who in column}
    wrong = {who for column in columns.values() for who, entry in column.items() if entry.wrong}
    return len(wrong) * max(0, len(everybody) - 1)


def _match(pair: tuple[str, str], names: list[tuple[str, str]], columns: Mapping[Any, Column],
           total: Mapping[Any, int], eligible: Mapping[Any, int], pairs: int) -> Match:
    learner, other = pair
    compared = [name for name, column in columns.items()
                if learner in column and other in column and column[learner].wrong
                and column[learner].apart(column[other])]
    # Leave the pair itself out; the half keeps a small class from claiming certainty.
    chances = [(total[n] - (n in names) + 0.5) / (eligible[n] - 1 + 1.0) for n in compared]
    chances = [min(1.0, chance) for chance in chances]
    identical = sum(_same(columns[name][learner], columns[name][other]) for name in names)
    return Match(learner, other, tuple(dict.fromkeys(question for question, _ in names)),
                 len(names), len(compared), identical, round(sum(chances), 3),
                 round(pairs * chance_of_at_least(len(names), chances), 6))


def _same(one: Entry, other: Entry) -> bool:
    return (one.answer is not None and other.answer is not None
            and abs(one.answer - other.answer) <= 1e-9 * max(abs(one.answer), 1.0))


def odds_words(expected_pairs: float) -> str:
    """Say how rarely chance makes such a pair.

    >>> odds_words(0.02), odds_words(0.0)
    ('by chance in about 1 class of 50', 'by chance in fewer than 1 class of 1,000')
    """
    if expected_pairs < 0.001:
        return "by chance in fewer than 1 class of 1,000"
    return f"by chance in about 1 class of {round(1 / expected_pairs):,}"
