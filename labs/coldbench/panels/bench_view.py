"""What the picture of a whole bench shows: words and shares, nothing else.

Eyes and ears fill most of it; a reading of an instrument is there once it has been taken.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True)
class DisplayView:
    """The control head's display.

    set_points : zone → words ("22.0 °C"); blower : 0 to 1, words beside it
    lit : False for a display that is dark
    """

    lit: bool
    set_points: Mapping[str, str] = field(default_factory=dict)
    blower: float = 0.0
    lines: tuple[str, ...] = ()
    compressor: bool = False


@dataclass(frozen=True)
class PointView:
    """A test point: its number and what it is called."""

    number: int
    label: str


@dataclass(frozen=True)
class BenchView:
    """The whole bench.

    gauges : low and high side [kPa gauge], or None where no gauge is read
    fans : motor → 0 to 1, share of full speed; blower : the same, as heard
    doors : door → 0 to 1; vents, flows : zone → words, and pipes : place → words, "" not taken
    """

    fluid: str
    atmosphere_Pa: float
    gauges: tuple[float, float] | None
    display: DisplayView
    fans: Mapping[str, float]
    blower: float
    clutch: bool
    doors: Mapping[str, float]
    vents: Mapping[str, str]
    flows: Mapping[str, str]
    pipes: Mapping[str, str]


def turning(share: float) -> str:
    """How fast something turns, as eyes and ears tell.

    >>> turning(0.0), turning(0.45), turning(0.97)
    ('stands still', 'turns slowly', 'turns fast')
    """
    return "stands still" if share < 0.03 else "turns slowly" if share < 0.7 else "turns fast"


def sentence(parts) -> str:
    """Parts joined to one sentence.

    >>> sentence(["fan 1 turns", "21 °C"])
    'Fan 1 turns; 21 °C.'
    """
    said = "; ".join(parts) + "."
    return said[:1].upper() + said[1:]
