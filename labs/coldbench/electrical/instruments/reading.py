"""What an instrument shows: the number, its text on the display, and how far it may be off.

A floating lead has no number worth writing down: its text says so and is never "0.000".
"""

import math
from dataclasses import dataclass

from coldbench.electrical.instruments.data import Instrument
from coldbench.errors import InputError


class Refusal(InputError):
    """The instrument must not be used here; the message names the danger and the way out.

    >>> str(Refusal("The circuit is live: no ohmmeter here"))
    'The circuit is live: no ohmmeter here'
    """


@dataclass(frozen=True)
class Reading:
    """One reading; `value` in SI, `shown` as on the display."""

    instrument: str
    value: float
    unit: str
    shown: str
    uncertainty: float
    floating: bool = False
    overload: bool = False
    note: str = ""

    def as_data(self) -> dict:
        """Return the reading as plain data.

        Returns
        -------
        dict
            instrument, value (None where the display shows no number), unit, shown,
            uncertainty, floating, overload, note.

        Examples
        --------
        >>> Reading("Voltmeter", 1.0, "V", "1.000 V", 0.01).as_data()["value"]
        1.0
        """
        number = not (self.floating or self.overload)
        return {"instrument": self.instrument, "value": self.value if number else None,
                "unit": self.unit, "shown": self.shown,
                "uncertainty": self.uncertainty if number else None,
                "floating": self.floating, "overload": self.overload, "note": self.note}


def read_display(instrument: Instrument, value: float, note: str = "") -> Reading:
    """Return what the display of an auto-ranging instrument shows for a true value.

    Parameters
    ----------
    instrument : Instrument
        Ranges, accuracy and unit.
    value : float
        True value [SI].
    note : str
        Words that go with the reading.

    Returns
    -------
    Reading
        value is the true value; shown is rounded to the step of the range; uncertainty is
        share · |value| + digits · step.  Beyond the last range: overload, shown "OL".

    Examples
    --------
    >>> from coldbench.electrical.instruments.data import instrument
    >>> read_display(instrument("voltmeter"), 6.6817).shown
    '6.68 V'
    >>> read_display(instrument("ohmmeter"), 1e12).shown
    'OL'
    """
    found = instrument.range_of(value)
    if found is None:
        return Reading(instrument.title, math.inf, instrument.unit, "OL", math.inf,
                       overload=True, note=note)
    step = found[1]
    return Reading(instrument.title, value, instrument.unit,
                   f"{rounded_text(value, step)} {instrument.unit}",
                   instrument.accuracy * abs(value) + instrument.digits * step, note=note)


def rounded_text(value: float, step: float) -> str:
    """Return a number rounded to the step of a display, without a minus before zero.

    Parameters
    ----------
    value, step : float
        Number and step, same unit.

    Returns
    -------
    str

    Examples
    --------
    >>> rounded_text(-0.0004, 0.01), rounded_text(27283.0, 10.0)
    ('0.00', '27280')
    """
    places = max(0, -math.floor(math.log10(step) + 1e-9))
    number = round(round(value / step) * step, places) + 0.0
    return f"{number:.{places}f}"
