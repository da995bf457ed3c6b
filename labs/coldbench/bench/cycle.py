"""The limit cycle of a bench: how long, how often, between which readings, and why.

Steady rounds find that a bench cycles; its times and true ranges come from following it over
time (`in_time`), so that a limit shows the pressure that was really reached.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import NamedTuple

from coldbench.bench.coupling import Case
from coldbench.bench.in_time import BenchEvent, BenchSample, Run, TICK_s

CYCLE_s, LOOK_s = 420.0, 20.0
CYCLES = 4
ZERO_C = 273.15


class Range(NamedTuple):
    """Lowest and highest value over a cycle."""

    lowest: float
    highest: float


@dataclass(frozen=True)
class Cycle:
    """A limit cycle, from its last full turns.

    what [compressor, or fans where only they go on and off]; period_s, on_s, off_s [mean times;
    of fans, on means high]; cycles [how many were seen]; ranges of the gauges [kPa] and of the
    coldest vent [°C]; reasons [why it changes, each once].
    """

    what: str
    period_s: float
    on_s: float
    off_s: float
    cycles: int
    high_side_gauge_kPa: Range
    low_side_gauge_kPa: Range
    vent_degC: Range
    reasons: tuple[str, ...]


def cycle_of(case: Case, seconds: float = CYCLE_s) -> Cycle | None:
    """Return times and ranges of a bench's limit cycle.

    Parameters
    ----------
    case : Case
        Bench, settings, faults.
    seconds : float
        How long to follow it at most [s]; enough turns of the clutch end it sooner.

    Returns
    -------
    Cycle or None
        None if neither clutch nor fans go on and off in turn.

    Examples
    --------
    >>> from coldbench.bench import bench_faults, load_bench
    >>> blue = load_bench("blue")
    >>> found = cycle_of(Case(blue, blue.state("gentle cooling"), bench_faults(blue, [])))
    >>> found.what, found.on_s + found.off_s == found.period_s
    ('compressor', True)
    """
    run = Run(case)
    while run.time_s < seconds and len(_ups(run.samples, _clutch)) < CYCLES + 2:
        run.follow(min(LOOK_s, seconds - run.time_s))
    for what, on in (("compressor", _clutch), ("fans", _fans_high)):
        ups = _ups(run.samples, on)
        if len(ups) > 1:
            return _turns(what, on, ups, run.samples, run.events)
    return None


def _clutch(sample: BenchSample) -> bool:
    return sample.engaged


def _fans_high(sample: BenchSample) -> bool:
    return sample.fan == "high"


def _ups(samples: list[BenchSample], on: Callable) -> list[int]:
    """Where it goes on."""
    return [n for n in range(1, len(samples)) if on(samples[n]) and not on(samples[n - 1])]


def _turns(what: str, on: Callable, ups: list[int], samples: list[BenchSample],
           events: list[BenchEvent]) -> Cycle:
    """Means and ranges over whole turns; the first pull from warm is none of them."""
    ups = ups[1:] if len(ups) > 2 else ups
    held = samples[ups[0]:ups[-1] + 1]
    count = len(ups) - 1
    period = (ups[-1] - ups[0]) * TICK_s / count
    on_s = min(sum(map(on, held[:-1])) * TICK_s / count, period)
    coldest = [min(s.vents_K.values()) - ZERO_C for s in held]
    return Cycle(what, period, on_s, period - on_s, count,
                 _range(s.loop.high_side_gauge_kPa for s in held),
                 _range(s.loop.low_side_gauge_kPa for s in held), _range(coldest),
                 _reasons(what, events, held[0].time_s))


def _reasons(what: str, events: list[BenchEvent], since_s: float) -> tuple[str, ...]:
    """What ends the running part of a turn, the last words of each reason."""
    ends = {"compressor": ("compressor off", "pressure switch opens"), "fans": ("fans",)}[what]
    words = {_reason(e.words): e.words for e in events
             if e.time_s > since_s and e.words.startswith(ends)}
    return tuple(words.values())


def _reason(words: str) -> str:
    """The decision and its reason without the numbers."""
    return ":".join(part.rstrip(" 0123456789.,-+−") for part in words.split(":")[:2])


def _range(values: Iterable[float]) -> Range:
    found = list(values)
    return Range(min(found), max(found))
