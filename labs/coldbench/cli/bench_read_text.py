"""The text of `coldbench bench read`: readings in groups, or a run in rows."""

from typing import TYPE_CHECKING

from coldbench.bench.uncertainty import uncertainty
from coldbench.cli.bench_read import codes

if TYPE_CHECKING:
    from coldbench.bench import BenchReading, BenchRun, Measured

GROUPS = (("Gauges", ("gauge ",)), ("Pipes", ("pipe ",)),
          ("Air", ("vent ", "condenser flow")), ("Seen", ("clutch", "cycling", "door ")),
          ("Live data", ("head answers", "live ", "request ")),
          ("Currents", ("current ",)), ("Test points", ("tp ",)))
_ROWS = 12
_SWINGING, _GOING_ON = ("Gauges", "Pipes", "Air"), ", if it went on running"


def reading_text(found: "BenchReading") -> str:
    """Return a reading for people.

    Parameters
    ----------
    found : BenchReading
        From `read`.

    Returns
    -------
    str

    Examples
    --------
    >>> from coldbench.bench import load_bench, read
    >>> print(reading_text(read(load_bench("blue"), "off")).splitlines()[0])
    Bench blue, state off, no fault
    """
    lines = [f"Bench {found.bench.name}, state {found.state}, {_faults(found.faults)}"]
    if found.cycling:
        lines += ["", *_cycle(found)]
    for title, starts in GROUPS:
        rows = [(key, one) for key, one in found.values.items() if key.startswith(starts)]
        lines += ["", title + (_GOING_ON if found.cycling and title in _SWINGING else ""),
                  *(_row(key, one) for key, one in rows)]
    lines += ["", "Sensor inputs of the head", *_inputs(found)]
    lines += ["", "The head" + (", at its last decision" if found.cycling else ""),
              *(f"  {one.words}" for one in found.reasons)]
    lines += [] if found.reasons else ["  does nothing"]
    stored = codes(found)
    lines += ["", "Stored codes", *(f"  {one['number']}  status {one['status']:02X}  {one['text']}"
                                    for one in stored)]
    return "\n".join(lines + ([] if stored else ["  none"]))


def _faults(texts: tuple[str, ...]) -> str:
    return f"with {', '.join(texts)}" if texts else "no fault"


def _row(key: str, one: "Measured") -> str:
    label = f"{key.removeprefix('tp '):>4}  {one.label}" if key.startswith("tp ") else one.label
    if not one.unit:
        return f"  {label:<58} {one.value:>9.0f}"
    value = round(one.value, 2) + 0.0  # no minus before a zero
    return f"  {label:<58} {value:>9.2f} {one.unit:<5} ± {one.uncertainty:.3g}"


def _inputs(found: "BenchReading") -> list[str]:
    lines = []
    for name, one in found.sensors.items():
        volts = round(one.volts, 3) + 0.0
        lines.append(f"  {name:<58} {volts:>9.3f} V     ± "
                     f"{uncertainty('V', 'volts', volts):.3g}  {one.place}")
    return lines


def _cycle(found: "BenchReading") -> list[str]:
    cycle = found.cycle
    if cycle is None:
        return ["It does not come to rest:", *(f"  {words}" for words in found.cycle_words)]
    what = "The compressor cycles" if cycle.what == "compressor" else "The fans cycle"
    ranges = (("high-side gauge", cycle.high_side_gauge_kPa, "kPa"),
              ("low-side gauge", cycle.low_side_gauge_kPa, "kPa"),
              ("coldest vent", cycle.vent_degC, "degC"))
    return [(f"{what}: {cycle.on_s:.1f} s on, {cycle.off_s:.1f} s off "
            f"(mean of {cycle.cycles} cycles)"),
            *(f"  {label} between {one.lowest:.1f} and {one.highest:.1f} {unit}"
              for label, one, unit in ranges),
            *(f"  {words}" for words in cycle.reasons)]


def run_text(run: "BenchRun") -> str:
    """Return a run for people: a dozen rows, then what happened.

    Parameters
    ----------
    run : BenchRun
        From `simulate`.

    Returns
    -------
    str

    Examples
    --------
    >>> from coldbench.bench import load_bench, simulate
    >>> print(run_text(simulate(load_bench("blue"), "off", seconds=1.0)).splitlines()[0])
    Bench blue over 1 s from rest, no fault
    """
    last = len(run.samples) - 1
    shown = sorted({round(n * last / (_ROWS - 1)) for n in range(_ROWS)})
    zones = list(run.samples[0].vents_K)
    heads = ["time", "high", "low", "clutch", "fans", "blower", *(f"vent {z}" for z in zones)]
    units = ["s", "kPa", "kPa", "", "", "%", *("degC" for _ in zones)]
    rows = [heads, units, *([
        f"{one.time_s:.1f}", f"{one.loop.high_side_gauge_kPa:.0f}",
        f"{one.loop.low_side_gauge_kPa:.0f}", "in" if one.engaged else "out", one.fan,
        f"{100.0 * one.blower:.0f}", *(f"{one.vents_K[z] - 273.15:.1f}" for z in zones)]
        for one in (run.samples[n] for n in shown))]
    lines = [(f"Bench {run.bench.name} over {run.samples[-1].time_s:g} s from rest, "
             f"{_faults(run.faults)}"), ""]
    lines += ["  ".join(f"{cell:>10}" for cell in row).rstrip() for row in rows]
    lines += ["", *(f"{one.time_s:8.1f} s  {one.words}" for one in run.events)]
    return "\n".join(lines)
