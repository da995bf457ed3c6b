"""How the head writes numbers: one way for each quantity, and comparisons that never mislead.

A *measure* turns an SI value into words for people: `KPA(1.72e6)` is "1,720 kPa".
"""

from dataclasses import dataclass
from functools import lru_cache


@dataclass(frozen=True)
class Measure:
    """A unit for people: shown value = (SI value - offset) / factor.

    Examples
    --------
    >>> DEGC(295.15), KPA(1.72e6), PERCENT(0.455), DEGC(263.15), WATT(-1280.0)
    ('22.0 °C', '1,720 kPa', '46 %', '−10.0 °C', '−1,280 W')
    """

    unit: str
    digits: int = 0
    factor: float = 1.0
    offset: float = 0.0

    def __call__(self, value: float, extra_digits: int = 0) -> str:
        """Return the value in words [str]."""
        return f"{self.number(value, extra_digits)} {self.unit}"

    def number(self, value: float, extra_digits: int = 0) -> str:
        """Return the value without its unit [str], with a true minus sign, never "−0".

        >>> DEGC.number(273.14)
        '0.0'
        """
        return _written((value - self.offset) / self.factor, self.digits + extra_digits)


@lru_cache(maxsize=4096)  # the same thresholds are written at every step of the head
def _written(shown: float, digits: int) -> str:
    """A number with separators and a true minus sign."""
    text = f"{shown:,.{digits}f}"
    if not text.strip("-0.,"):
        text = text.lstrip("-")
    return text.replace("-", "\u2212", 1)


DEGC = Measure("°C", 1, 1.0, 273.15)
KELVIN = Measure("K", 1)
KPA = Measure("kPa", 0, 1000.0)
PERCENT = Measure("%", 0, 0.01)
RPM = Measure("rpm")
SECOND = Measure("s", 1)
SUN = Measure("W/m²")
VOLT = Measure("V", 1)
WATT = Measure("W")


def compare(value: float, sign: str, limit: float, measure: Measure) -> str:
    """Write a comparison with its numbers.

    Parameters
    ----------
    value, limit : float
        SI values.
    sign : str
        "≥", "≤", ">" or "<": the relation that holds.
    measure : Measure
        How to write them. A strict relation whose two sides would look equal gets more digits.

    Returns
    -------
    str

    Examples
    --------
    >>> compare(1.72e6, "≥", 1.6e6, KPA)
    '1,720 kPa ≥ 1,600 kPa'
    >>> compare(1599.96e3, "<", 1600e3, KPA)
    '1,599.96 kPa < 1,600.00 kPa'
    """
    extra = 0
    while (sign in "<>" and value != limit and extra < 6
           and measure.number(value, extra) == measure.number(limit, extra)):
        extra += 1
    return f"{measure(value, extra)} {sign} {measure(limit, extra)}"
