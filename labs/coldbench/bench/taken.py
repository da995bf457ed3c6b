"""What an instrument showed: readings rounded to its display, words, minutes, refusals."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from coldbench.bench.reading import Measured
from coldbench.bench.uncertainty import display_step, uncertainty
from coldbench.electrical.instruments.reading import rounded_text


@dataclass(frozen=True)
class Taken:
    """One use of an instrument.

    instrument ["gauges", "voltmeter", …]; arguments [where it was put, plain data]; values [name
    → reading as displayed; empty when refused]; words [the line that is printed]; minutes [that
    it cost]; refused [the caution, or ""]; standing [how the bench stood, plain data]; said [the
    part of the words that tells what was found]; reasons [live data only: the head's decisions
    and why, in words].
    """

    instrument: str
    arguments: Mapping[str, Any]
    values: Mapping[str, Measured]
    words: str
    minutes: float
    refused: str = ""
    standing: Mapping[str, Any] = field(default_factory=dict)
    said: str = ""
    reasons: tuple[str, ...] = ()

    def __repr__(self) -> str:
        return self.words


@dataclass(frozen=True)
class Found:
    """What an instrument gives its session: readings as displayed, what is said of them, reasons."""

    values: Mapping[str, Measured]
    said: str
    reasons: tuple[str, ...] = ()


def kind_of(key: str) -> str:
    """Return the kind of reading that a key of `BenchReading.values` names, as in the data file.

    >>> kind_of("pipe suction line"), kind_of("vent left"), kind_of("vent flow")
    ('pipe', 'air', 'flow')
    """
    first = key.split(" ")[0]
    if key in ("gauge high", "gauge low"):
        return key
    if key in ("vent flow", "condenser flow"):
        return "flow"
    if key in ("request blower",):
        return "live"
    return {"pipe": "pipe", "vent": "air", "tp": "volts", "current": "amps", "door": "door",
            "display": "display", "live": "live", "weight": "weight"}.get(first, "seen")


def displayed(key: str, reading: Measured) -> Measured:
    """Return a reading rounded to the step that its instrument shows.

    Parameters
    ----------
    key : str
        As in `BenchReading.values`.
    reading : Measured
        With the true value.

    Returns
    -------
    Measured

    Examples
    --------
    >>> displayed("gauge high", Measured(1369.8, "kPa", 40.0, "high-side gauge")).value
    1370.0
    """
    unit, kind = reading.unit, kind_of(key)
    step = display_step(unit, kind)
    if not step:
        return reading
    value = float(rounded_text(reading.value, step))
    return reading._replace(value=value, uncertainty=uncertainty(unit, kind, value))


def with_sign(unit: str) -> str:
    """Return a unit as it stands behind a number, with its blank.

    >>> f"0{with_sign('degC')}, 300{with_sign('kPa')}, 5{with_sign('W/m2')}, 1{with_sign('')}"
    '0 °C, 300 kPa, 5 W/m², 1'
    """
    return {"degC": " °C", "W/m2": " W/m²", "": ""}.get(unit, f" {unit}")


def shown(key: str, reading: Measured) -> str:
    """Return a reading as text, with its uncertainty.

    >>> shown("pipe x", Measured(46.2, "degC", 1.0, "pipe, x"))
    'pipe, x 46.2 °C ± 1.0 °C'
    """
    unit = with_sign(reading.unit)
    step = display_step(reading.unit, kind_of(key)) or 1.0
    number = rounded_text(reading.value, step)
    around = f" ± {rounded_text(reading.uncertainty, step)}{unit}" if reading.uncertainty else ""
    return f"{reading.label} {number}{unit}{around}"


def pick(values: Mapping[str, Measured], *keys: str) -> dict[str, Measured]:
    """Return some readings of a bench, as displayed; keys that it has not are left out."""
    return {key: displayed(key, values[key]) for key in keys if key in values}


def listed(values: Mapping[str, Measured]) -> str:
    """Return readings as one line of text; semicolons part them, since labels hold commas."""
    return "; ".join(shown(key, reading) for key, reading in values.items())
