"""A whole bench in the notebook: every instrument prints what it shows and is journalled.

    bench = sheet.bench_session("blue", "full cooling", faults=["K1:coil_open"])
    bench.gauges()
    bench.meter("volts", 3, 4)             # test point numbers or names such as "K1.30"
    bench.set_state("off")                 # before the ohmmeter, unplugging and replacing
    bench.replace("K1")
    bench = sheet.bench_session("bench-7.sealed")     # what is wrong is not in the file

Methods and places are those of `bench.session.Session`. None raises for what a learner types:
the sentence says what was wrong. For marking, `bench.expected(entry)` works an entry of the
journal out again on the same bench; `expected_at` of `circuit_bench` takes these benches too.

A reading of up to four numbers is written down number by number, the minutes with the first; of
more, and of what has no unit, as one line of words.
"""

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, NamedTuple

from coldbench.bench import Measured, Session, Taken, load_bench, open_sealed
from coldbench.bench.outfit import Outfit
from coldbench.bench.session import MEASURES, METER_MODES, WORKS
from coldbench.bench.standing import Standing, standing_of
from coldbench.errors import ConvergenceError, InputError
from coldbench.worksheet.entries import LONGEST_TEXT, Entry
from coldbench.worksheet.journal import Journal
from coldbench.worksheet.spelling import one_line, sentence

MOST_NUMBERS = 4
_READING, _PART = "reading", "line"
_METHODS = MEASURES | WORKS


class Line(NamedTuple):
    """One line of the journal for a use of an instrument."""

    arguments: dict[str, Any]
    reading: float | str | None
    unit: str
    uncertainty: float | None
    minutes: float
    note: str


class BenchSession:
    """A session whose every instrument prints and journals.

    session [Session; a panel on it, `BenchPanel(bench.session)`, writes into the same journal];
    journal [None: nothing is written down]; name [tells it from other benches of the same lab];
    numbers [of the journal's entry for each thing taken, its first; 0: not in it].
    """

    def __init__(self, session: Session, journal: Journal | None = None, name: str = ""):
        self.session, self.journal, self.name = session, journal, name
        self.numbers: list[int] = []
        session.note = self._write_down

    @property
    def state(self) -> str:
        """Name of the operating state."""
        return self.session.state

    @property
    def states(self) -> tuple[str, ...]:
        """Names of the operating states."""
        return self.session.states

    @property
    def minutes(self) -> float:
        """Minutes spent so far."""
        return self.session.minutes

    @property
    def taken(self) -> list[Taken]:
        """Every use of an instrument so far."""
        return self.session.taken

    @property
    def outfit(self) -> Outfit:
        """Names of places, parts and tests."""
        return self.session.outfit

    @property
    def standing(self) -> Standing:
        """How the bench stands."""
        return self.session.standing

    def in_view(self) -> dict[str, Measured]:
        """What eyes and ears get, for a picture; no minutes, no entry."""
        return self.session.in_view()

    def __repr__(self) -> str:
        return repr(self.session)

    def set_state(self, name: str) -> None:
        """Go to an operating state; says which there are when there is none of that name."""
        try:
            self.session.set_state(name)
        except InputError as error:
            print(f"✗ {sentence(str(error))}")
        else:
            print(f"State: {self.session.standing.words}. States are {', '.join(self.states)}.")

    def _use(self, method: str, *arguments: Any) -> Taken | None:
        """Use an instrument, print its line, write it down."""
        try:
            taken = getattr(self.session, method)(*arguments)
        except (InputError, ConvergenceError, TypeError) as error:
            print(f"✗ {sentence(one_line(str(error), 1000))}")
            return None
        print(f"{'✗ ' if taken.refused else ''}{taken.words} ({self.minutes:g} min)")
        return _Quiet(taken)

    def _write_down(self, taken: Taken) -> None:
        if self.journal is None:
            return
        settings = {**({"bench": self.name} if self.name else {}), **taken.standing}
        first = 0
        for line in journal_lines(taken):
            self.journal.add(taken.instrument, line.arguments, line.reading, line.unit,
                             settings=settings, uncertainty=line.uncertainty,
                             minutes=line.minutes, note=line.note)
            first = first or self.journal.last_number
            if self.journal.trouble:
                print(f"! {self.journal.trouble}")
        self.numbers.append(first)

    def retaken(self, entry: Entry) -> Taken:
        """Use the instrument of a journal's entry again, with the bench as it stood then.

        entry [untrusted]. Raises InputError for an entry that names what the bench does not have.
        """
        if entry.bench != self.name:
            raise InputError("this bench has no such measurement")
        settings = {key: one for key, one in entry.settings.items() if key != "bench"}
        return _repeat(self.session.again(standing_of(settings)), entry)

    def expected(self, entry: Entry) -> tuple[float | str, str, float] | None:
        """What this bench shows for an entry of a journal [value or word, unit, ±].

        None where the bench refuses. Raises InputError for an entry that names what the bench
        does not have.
        """
        for line in journal_lines(self.retaken(entry)):
            if line.arguments == dict(entry.arguments):
                if line.reading is None:
                    return None
                return line.reading, line.unit, line.uncertainty or 0.0
        raise InputError("this bench has no such measurement")


def _forward(instrument: str, method: str):
    """A method of `Session`, as a learner's cell calls it."""
    def use(self: BenchSession, *arguments: Any) -> Taken | None:
        return self._use(method, *arguments)

    use.__name__, use.__doc__ = method, getattr(Session, method).__doc__
    return use


for _instrument, _method in (*_METHODS.items(), ("meter", "meter")):
    setattr(BenchSession, _method, _forward(_instrument, _method))


class _Quiet:
    """A `Taken` that a notebook does not show again: its line was printed already."""

    def __init__(self, taken: Taken):
        self._taken = taken

    def __getattr__(self, name: str) -> Any:
        return getattr(self._taken, name)

    def __repr__(self) -> str:
        return self._taken.words

    def _ipython_display_(self) -> None:
        """Nothing more."""


def open_bench_session(bench: Any, state: str | None = None, faults=(),
                       set: Mapping[str, Any] | None = None, journal: Journal | None = None,
                       name: str = "", folder: Path | None = None) -> BenchSession:
    """Open a session at a bench, or at a sealed one.

    bench [shipped name, path of a bench file, or of a sealed file; a path is looked for in
    `folder`, the lab's, too]; state [to begin with]; faults, set [of a bench that is not sealed].
    Raises InputError for an unknown bench, state, setting or fault.
    """
    path = _found(str(bench), folder)
    if path is not None and path.suffix != ".toml":
        if tuple(faults) or set:
            raise InputError(f"{path.name} is sealed: faults and settings cannot be changed")
        return BenchSession(open_sealed(path).session(state), journal, name)
    model = load_bench(path if path is not None else str(bench))
    return BenchSession(model.session(state, faults, dict(set or {})), journal, name)


def _found(bench: str, folder: Path | None) -> Path | None:
    """The file of that name, here or in the lab's folder; None for a shipped bench's name."""
    if not Path(bench).suffix:
        return None
    beside = Path(folder or ".") / bench
    return beside if beside.is_file() else Path(bench)


def journal_lines(taken: Taken) -> Iterator[Line]:
    """Give the lines that a use of an instrument leaves in the journal.

    taken [of a session]. A refusal leaves one line with its caution; work, one with "done".
    """
    where = dict(taken.arguments)
    if taken.refused:
        yield Line(where, None, "", None, 0.0, taken.refused)
        return
    minutes = taken.minutes
    numbers = {key: one for key, one in taken.values.items() if one.unit}
    if not taken.values or len(numbers) != len(taken.values) or len(numbers) > MOST_NUMBERS:
        for number, text in enumerate(_cut(taken.said), 1):
            more = {_PART: number} if number > 1 else {}
            yield Line(where | more, text, "", None, minutes, "")
            minutes = 0.0
        return
    for key, one in numbers.items():
        more = {_READING: key} if len(numbers) > 1 else {}
        yield Line(where | more, one.value, one.unit, one.uncertainty, minutes, "")
        minutes = 0.0


def _cut(words: str) -> list[str]:
    """A text in pieces that a journal's line takes, cut at semicolons, or at commas without any."""
    pieces, now = [], ""
    mark = "; " if "; " in words else ", "
    for part in words.split(mark):
        longer = f"{now}{mark}{part}" if now else part
        if len(longer) > LONGEST_TEXT and now:
            pieces.append(now)
            longer = part
        now = longer
    return [one_line(piece, LONGEST_TEXT) for piece in (*pieces, now)]


def placed(entry: Entry) -> dict[str, Any]:
    """Where the instrument of an entry was put, without which of its readings this is."""
    return {key: one for key, one in entry.arguments.items() if key not in (_READING, _PART)}


def _repeat(session: Session, entry: Entry) -> Taken:
    """Use the instrument of an entry again; InputError when it is none of the bench."""
    given = placed(entry)
    try:
        if entry.instrument in METER_MODES:
            return session.meter(METER_MODES[entry.instrument], **given)
        method = getattr(session, _METHODS[entry.instrument])
        if entry.instrument == "sensor box":
            return method(given["input"], given["value"])
        return method(*given.values())
    except (KeyError, TypeError):
        raise InputError("this bench has no such measurement") from None
