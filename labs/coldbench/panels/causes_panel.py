"""Causes tried at a bench: put faults in, see what it shows and whether the complaint is there.

In a notebook:

    panel = CausesPanel("blue", "fans never run", {"fuse F1 blown": "F1:blown", …})
    panel.try_causes("fuse F1 blown", "fan 2 open")

Each trial is simulated when it is asked for. The panel says what the bench does with just these
faults, and nothing else: which sets are worth a trial is the learner's to find out.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from coldbench.errors import InputError
from coldbench.panels.controls import Button, Toggle
from coldbench.panels.panel import Panel, Table

MOST_CAUSES, LISTED = 20, 12
_GROUP = "Causes to put in"
NOTHING = "no fault at all"


@dataclass(frozen=True)
class Trial:
    """One trial: causes put in, whether the complaint shows [None: not solved], readings."""

    causes: tuple[str, ...]
    shows: bool | None
    readings: tuple[str, ...]

    @property
    def named(self) -> str:
        """The causes in words."""
        return " + ".join(self.causes) or NOTHING

    @property
    def verdict(self) -> str:
        """What the bench does, in one word or two."""
        return {True: "yes", False: "no", None: "not solved"}[self.shows]


class CausesPanel(Panel):
    """A bench to try sets of causes at.

    Parameters
    ----------
    bench : name of a bench, or path of its file
    symptom : one of its symptoms
    causes : words → the bench's fault, such as "F1:blown"
    readings : readings to show beside the symptom's own, such as "gauge high" → words for them
    changes : starting settings, named "cause 1", "cause 2" … in the order given

    Raises
    ------
    InputError : no causes or too many, a fault or symptom or reading the bench does not have
    """

    title = "Try causes at the bench"
    look = "cb-causes"

    def __init__(self, bench, symptom: str, causes: Mapping[str, str],
                 readings: Mapping[str, str] = {}, **changes):
        from coldbench.bench import bench_faults, load_bench
        from coldbench.diagnosis.from_bench import complaint_of

        self.causes = {str(words): str(fault) for words, fault in causes.items()}
        if not 1 <= len(self.causes) <= MOST_CAUSES:
            raise InputError(f"{len(self.causes)} causes; accepted: 1 to {MOST_CAUSES}")
        self.bench = load_bench(bench)
        for fault in self.causes.values():
            bench_faults(self.bench, [fault])
        self.complaint = complaint_of(self.bench, symptom)
        self._readings = tuple(dict.fromkeys([*self.complaint.readings, *readings]))
        self._kept: dict[tuple[str, ...], Trial] = {}
        self._tried: tuple[Trial, ...] = ()
        self._labels = self._known_readings() | dict(readings)
        start = {**{self._name(n): False for n in range(len(self.causes))}, "put": 0}
        self._put = 0
        super().__init__(start, changes)

    @property
    def tried(self) -> tuple[Trial, ...]:
        """The trials so far, the newest first; one made again moves to the front."""
        return self._tried

    def try_causes(self, *causes: str) -> Trial:
        """Put these causes in, and nothing else; returns what the bench shows.

        Raises InputError for a cause that is not in the list.
        """
        if unknown := [one for one in causes if one not in self.causes]:
            raise InputError(f"{unknown[0]!r} is not one of the causes: {'; '.join(self.causes)}")
        self.set(**{self._name(n): words in causes for n, words in enumerate(self.causes)},
                 put=self.settings["put"] + 1)
        return self._tried[0]

    @staticmethod
    def _name(place: int) -> str:
        return f"cause {place + 1}"

    def _known_readings(self) -> dict[str, str]:
        """Reading → its words; raises InputError for one that the bench does not have."""
        shown = self._shown(())
        values = {} if shown is None else shown.values
        if unknown := [one for one in self._readings if one not in values]:
            raise InputError(f"{self.bench.name} has no reading {unknown[0]!r} in "
                             f"“{self.complaint.state}”")
        return {one: values[one].label or one for one in self._readings}

    def _shown(self, faults: tuple[str, ...]):
        """What the bench shows, None where it could not be solved."""
        from coldbench.diagnosis.from_bench import shown_table

        state = self.complaint.state
        table = shown_table(self.bench, [state], [faults], workers=1, keep=False)
        return None if table.row(state, faults) is None else table.shown(state, faults)

    def _trial(self, causes: tuple[str, ...]) -> Trial:
        if causes not in self._kept:
            shown = self._shown(tuple(self.causes[one] for one in causes))
            if shown is None:
                trial = Trial(causes, None, ("–",) * len(self._readings))
            else:
                trial = Trial(causes, self.complaint.shows(shown), tuple(
                    _words(shown.values.get(one)) for one in self._readings))
            self._kept[causes] = trial
        return self._kept[causes]

    def controls(self, settings):
        """A toggle for each cause, then the button."""
        return (*(Toggle(self._name(n), words, group=_GROUP)
                  for n, words in enumerate(self.causes)),
                Button("put", "Try them at the bench"))

    def compute(self, settings) -> tuple[Trial, ...]:
        """Simulate when the button was pressed; a change of toggles alone tries nothing."""
        if settings["put"] > self._put:
            chosen = tuple(words for n, words in enumerate(self.causes)
                           if settings[self._name(n)])
            trial = self._trial(chosen)
            self._tried = (trial, *(one for one in self._tried if one != trial))
            self._put = settings["put"]
        return self._tried

    def pictures(self, state) -> tuple:
        """No drawing: what counts is said in the table."""
        return ()

    def line(self, state: tuple[Trial, ...]) -> str:
        """The newest trial in words."""
        where = f"in “{self.complaint.state}”"
        if not state:
            return f"Nothing tried yet\nThe symptom: “{self.complaint.name}”, {where}."
        newest = state[0]
        if newest.shows is None:
            return f"{newest.named}\nThe bench could not be solved with it."
        told = "; ".join(f"{self._labels[one]} {value}" for one, value in
                         zip(self._readings, newest.readings, strict=True)
                         if one in self.complaint.readings)
        does = "shows" if newest.shows else "does not show"
        return f"{newest.named}\nThe bench {does} “{self.complaint.name}” {where}: {told}."

    def table(self, state: tuple[Trial, ...]) -> Table:
        """The trials, the newest first."""
        rows = [(one.named, one.verdict, *one.readings) for one in state[:LISTED]]
        return Table(f"Tried so far, the newest first: {len(state)}",
                     ("Put in", "Symptom shows", *(self._labels[one] for one in self._readings)),
                     tuple(rows))

    def values(self, state: tuple[Trial, ...]):
        """The newest trial, and how many were made."""
        newest = state[0] if state else None
        return {"tried": len(state), "put_in": newest and newest.named,
                "symptom_shows": newest and newest.verdict}


def _words(measured) -> str:
    """A reading as far as its instrument can be trusted: 58.69 % ± 2 % is 59 %."""
    if measured is None:
        return "not shown"
    if math.isnan(measured.value):
        return "unsteady"
    if not measured.unit.strip("-"):
        return {1.0: "yes", 0.0: "no"}.get(measured.value, f"{measured.value:.3g}")
    places = -math.floor(math.log10(measured.uncertainty)) if measured.uncertainty > 0 else 2
    shown = round(measured.value, places) + 0.0
    return f"{shown:.{max(places, 0)}f} {measured.unit}".replace("-", "−")
