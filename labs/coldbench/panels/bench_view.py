"""What the picture of a whole bench shows: words and levels, nothing else.

Eyes and ears fill most of it; a reading of an instrument is there once it has been taken while
the bench stood as it stands now. Whether a model or a sealed file answers makes no difference.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from coldbench.bench import Measured
from coldbench.bench.taken import with_sign
from coldbench.control.calibration import DISTRIBUTIONS

TURNING = {-1.0: "turns backwards", 0.0: "stands still", 1.0: "turns slowly", 2.0: "turns fast"}
HEARD = {0.0: "not heard", 1.0: "faint", 2.0: "heard", 3.0: "loud"}


@dataclass(frozen=True)
class DisplayView:
    """The control head's display.

    known : False where nothing is in view; lit : False for a display that is dark; set_points : zone → words ("22.0 °C")
    blower : 0 to 1; lines : further words; compressor : its lamp
    """

    lit: bool
    set_points: Mapping[str, str] = field(default_factory=dict)
    blower: float = 0.0
    lines: tuple[str, ...] = ()
    compressor: bool = False
    known: bool = True


@dataclass(frozen=True)
class BenchView:
    """The whole bench.

    gauges : low and high side [kPa gauge], or None where no gauge is read
    fans : name → level of `TURNING`; blower : level of `HEARD`; clutch : pulled in; None for
        what is not in view; doors : name → 0 to 1
    vents : zone, pipes : place, flows : place → words, "" for what is not taken
    """

    fluid: str
    gauges: tuple[float, float] | None
    display: DisplayView
    fans: Mapping[str, float]
    blower: float | None
    clutch: bool | None
    cycling: bool
    doors: Mapping[str, float]
    vents: Mapping[str, str]
    flows: Mapping[str, str]
    pipes: Mapping[str, str]


def view_of(outfit, seen: Mapping[str, Measured], taken: Mapping[str, Measured]) -> BenchView:
    """The bench as it is seen, with what was taken.

    Parameters
    ----------
    outfit : the session's, names of places
    seen : what eyes and ears get; taken : readings of instruments, both by key
    """
    gauges = tuple(taken[key].value for key in ("gauge low", "gauge high") if key in taken)
    return BenchView(
        fluid=outfit.fluid, gauges=gauges if len(gauges) == 2 else None,
        display=_display(seen),
        fans={seen[key].label: seen[key].value for key in seen if key.startswith("fan ")},
        blower=seen["blower"].value if "blower" in seen else None,
        clutch=bool(seen["clutch"].value) if "clutch" in seen else None,
        cycling=bool(_value(seen, "cycling")),
        doors={key.removeprefix("door "): seen[key].value / 100
               for key in seen if key.startswith("door ")},
        vents={zone: in_words(taken.get(f"vent {zone}")) for zone in outfit.vents},
        flows={place: in_words(taken.get(f"{place} flow")) for place in outfit.flows},
        pipes={place: in_words(taken.get(f"pipe {place}")) for place in outfit.pipes},
    )  # fmt: skip


def _display(seen: Mapping[str, Measured]) -> DisplayView:
    if "head answers" not in seen:
        return DisplayView(lit=False, known=False)
    if not seen["head answers"].value:
        return DisplayView(lit=False)
    start = "display set "
    lines = []
    if "display air" in seen:
        lines.append(f"air to {DISTRIBUTIONS[int(seen['display air'].value)]}")
    if "display recirculation" in seen:
        lines.append("recirculated air" if seen["display recirculation"].value else "fresh air")
    return DisplayView(
        lit=True,
        set_points={key.removeprefix(start): in_words(seen[key])
                    for key in seen if key.startswith(start)},
        blower=_value(seen, "display blower") / 100, lines=tuple(lines),
        compressor=bool(_value(seen, "display compressor")))  # fmt: skip


def _value(values: Mapping[str, Measured], key: str) -> float:
    return values[key].value if key in values else 0.0


def in_words(reading: Measured | None) -> str:
    """A reading without its uncertainty, for a drawing; "" for none.

    >>> in_words(Measured(-6.5, "degC", 1.0, "pipe")), in_words(None)
    ('−6.5 °C', '')
    """
    if reading is None:
        return ""
    digits = {"degC": 1, "V": 2, "A": 1, "kg": 2}.get(reading.unit, 0)
    return f"{reading.value:.{digits}f}{with_sign(reading.unit)}".replace("-", "−")


def sentence(parts) -> str:
    """Parts joined to one sentence.

    >>> sentence(["fan 1 turns", "21 °C"])
    'Fan 1 turns; 21 °C.'
    """
    said = "; ".join(parts) + "."
    return said[:1].upper() + said[1:]
