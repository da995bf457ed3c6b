"""The loop over time for people and programs: `coldbench loop --seconds N`."""

import math

from coldbench.quantity import format_quantity
from coldbench.refrigerant.loop import Conditions
from coldbench.refrigerant.loop.transient import Cycling, Sample, Transient, simulate

_ROWS = 12  # lines of the table, besides the first
_FULL_SECONDS = (1, 2, 5, 10, 15, 20, 30, 60, 120, 300, 600)  # between two lines
_ROUNDING = 4


def run_loop(conditions: Conditions, seconds: float, faults: "list[str] | tuple" = ()) -> Transient:
    """Return the bench started from rest, with the usual switches on the clutch.

    Parameters
    ----------
    conditions : Conditions
        Settings.
    seconds : float
        Up to 7200 [s].
    faults : list of str
        NAME or NAME=SEVERITY.

    Returns
    -------
    Transient

    Raises
    ------
    InputError
        If the time or a fault is not accepted.

    Examples
    --------
    >>> run_loop(Conditions(), 1.0).events[0].words
    'clutch engages'
    """
    return simulate(conditions, seconds, faults=faults, clutch=Cycling())


def run_text(run: Transient) -> str:
    """Return a short table of the needles over time, and what happened.

    Parameters
    ----------
    run : Transient
        Run.

    Returns
    -------
    str

    Examples
    --------
    >>> run_text(run_loop(Conditions(), 2.0)).splitlines()[0]
    'R134a loop, 2 s from rest'
    """
    end = float(run.time_s[-1])
    lines = [f"{run.conditions.fluid} loop, {end:g} s from rest"]
    lines += [f"  fault: {f.name}, severity {f.severity:g}" for f in run.faults]
    lines += ["", f"{'time':>8}{'high side':>12}{'low side':>11}{'coil':>10}{'vent':>10}"
                  f"{'cabin':>10}  clutch"]
    lines += [_line(run.at(time)) for time in _times(end)]
    lines += ["", *(f"{event.time_s:>6.1f} s  {event.words}" for event in run.events)]
    return "\n".join(lines).rstrip()


def _times(end: float) -> list[float]:
    """Round times, few enough for one screen, and the end."""
    step = next((s for s in _FULL_SECONDS if end <= s * _ROWS), _FULL_SECONDS[-1])
    return [*(i * step for i in range(math.ceil(end / step))), end]


def _line(sample: Sample) -> str:
    gauges = (format_quantity(kPa * 1e3, "kPa", "gauge pressure", 0) for kPa in
              (sample.high_side_gauge_kPa, sample.low_side_gauge_kPa))
    warmth = (format_quantity(K, "degC", "temperature", 1) for K in
              (sample.coil_temperature_K, sample.vent_temperature_K, sample.cabin_temperature_K))
    high, low = gauges
    return (f"{sample.time_s:>6g} s{high:>12}{low:>11}" + "".join(f"{w:>10}" for w in warmth)
            + f"  {'on' if sample.clutch_on else 'off'}")


def run_answer(run: Transient) -> dict:
    """Return a run as plain data.

    Parameters
    ----------
    run : Transient
        Run.

    Returns
    -------
    dict
        series: a list over time for each reading, in the unit of its key's ending; events: time
        and words.

    Examples
    --------
    >>> found = run_answer(run_loop(Conditions(), 1.0))
    >>> found["series"]["time_s"], found["events"][0]["time_s"]
    ([0.0, 0.5, 1.0], 0.0)
    """
    series = dict(_column(name, values) for name, values in run.series.items())
    return {"series": series,
            "events": [{"time_s": e.time_s, "words": e.words} for e in run.events]}


def _column(name: str, values) -> tuple[str, list]:
    """Key and list of one series: temperatures in degC, flows in g/s, charge in g."""
    if name.endswith("_temperature_K"):
        name, values = name.replace("_K", "_degC"), values - 273.15
    elif name.endswith("_kg_per_s"):
        name, values = name.replace("_kg_per_s", "_g_s"), values * 1e3
    elif name.endswith("_kg"):
        name, values = name.replace("_kg", "_g"), values * 1e3
    if values.dtype == bool:
        return name, values.tolist()
    return name, [round(value, _ROUNDING) + 0.0 for value in values.tolist()]
