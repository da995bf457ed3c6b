"""A complaint: a symptom of a bench, the state it is noticed in, and whether a reading shows it."""

from collections.abc import Callable
from dataclasses import dataclass

from coldbench.bench import Bench
from coldbench.bench import shows as symptom_shows
from coldbench.bench.symptoms import holds
from coldbench.diagnosis.from_bench.classes import number_words
from coldbench.diagnosis.from_bench.table import Shown
from coldbench.errors import InputError


@dataclass(frozen=True)
class Complaint:
    """A complaint to be explained.

    name; state [operating state it is noticed in]; shows [a function of what the bench shows, such
    as a BenchReading: does it bear the complaint out]; readings [keys it looks at; empty: not
    known]; told [what the complaint wants of each of these, in words].
    """

    name: str
    state: str
    shows: Callable[[Shown], bool]
    readings: tuple[str, ...] = ()
    told: Callable[[Shown], str] = lambda shown: ""


def complaint_of(bench: Bench, symptom: str) -> Complaint:
    """Return a symptom of a bench file as a complaint.

    Parameters
    ----------
    bench : Bench
        The bench.
    symptom : str
        Name of one of its symptoms.

    Returns
    -------
    Complaint

    Raises
    ------
    InputError
        If the bench has no such symptom; the message names those it has.

    Examples
    --------
    >>> from coldbench.bench import load_bench
    >>> complaint_of(load_bench("blue"), "warm air at every vent").readings
    ('vent left', 'vent right', 'vent flow')
    """
    if symptom not in bench.symptoms:
        known = "; ".join(bench.symptoms) or "none"
        raise InputError(f"{bench.name} has no symptom {symptom!r}; it has: {known}")
    one = bench.symptoms[symptom]

    def told(shown: Shown) -> str:
        return _told(one, shown)

    return Complaint(symptom, one.state, lambda shown: symptom_shows(one, shown),
                     tuple(dict.fromkeys(row.reading for row in one.when)), told)


def _told(symptom, shown: Shown) -> str:
    """The reading that decides: the first condition that fails, else all of them."""
    lines, failing = [], ""
    for row in symptom.when:
        unit = "" if row.unit == "-" else row.unit
        found = shown.values.get(row.reading)
        value = "not shown" if found is None else number_words(found.value, unit)
        wanted = f"{row.comparison} {number_words(row.value, unit)}"
        if found is None or not holds(row, found.value):
            failing = failing or f"{row.reading}: {value}, the complaint wants {wanted}"
        lines.append(f"{row.reading}: {value}, {wanted}")
    return failing or "; ".join(lines)
