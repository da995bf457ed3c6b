"""What a session's instruments said, in words for lines, tables and lists."""

import re
from collections.abc import Iterable, Mapping

from coldbench.bench import Measured, Taken
from coldbench.panels.bench_actions import unit_words
from coldbench.panels.bench_view import in_words

MOST_VALUES = 6
"""Values that still fit a line; more are listed."""
_LEVELS = {"request compressor": ("no", "yes"), "request fans": ("off", "low", "high"),
           "request recirculation": ("fresh air", "recirculated air")}  # fmt: skip
_ASKED = {"request compressor": "compressor asked for", "request fans": "fans asked for",
          "request recirculation": "air asked for", "request blower": "blower asked for"}  # fmt: skip


def said(taken: Taken) -> str:
    """What an instrument showed, without where it was put.

    >>> said(Taken("recovery", {}, {}, "", 0.0, "switch the drive off first"))
    'refused: switch the drive off first'
    """
    return f"refused: {taken.refused}" if taken.refused else taken.said


def where(taken: Taken, numbers: Mapping[str, int]) -> str:
    """The instrument and where it was put [numbers: node → test point there].

    >>> where(Taken("voltmeter", {"red": "K1.30", "black": "x"}, {}, "", 1.0), {"K1.30": 3})
    'voltmeter, 3 to x'
    """
    places = [str(numbers.get(value, value)) for value in taken.arguments.values()
              if value is not None]  # fmt: skip
    return f"{taken.instrument}, {' to '.join(places)}" if places else taken.instrument


def short(taken: Taken) -> str:
    """What it showed, or how many values where there are too many for a line."""
    if not taken.refused and len(taken.values) > MOST_VALUES and taken.instrument != "look":
        return f"{len(taken.values)} values"
    shown = said(taken)
    if len(taken.values) == 1:
        shown = shown.removeprefix(f"{next(iter(taken.values.values())).label} ")
    return re.sub(r"(^| )-(?=[0-9])", r"\1−", shown)


def first_line(taken: Taken, numbers: Mapping[str, int]) -> str:
    """An instrument, its place and what it showed, on one line."""
    line = f"{where(taken, numbers)}: {short(taken)}"
    return line[:1].upper() + line[1:]


def row(number: int, taken: Taken, numbers: Mapping[str, int],
        units: Mapping[str, str]) -> tuple[str, ...]:
    """A row of the table of what was taken [units: of the sensor boxes]."""
    return (str(number), where(taken, numbers), standing(taken.standing, units), short(taken),
            f"{taken.minutes:g}")  # fmt: skip


def standing(table: Mapping, units: Mapping[str, str]) -> str:
    """How the bench stood, in words [units: of the sensor boxes].

    >>> standing({"state": "off", "unplugged": ["M1"], "boxes": {"ambient": 20.0}},
    ...          {"ambient": "degC"})
    'off, M1 unplugged, box at ambient 20 °C'
    """
    more = [f"{', '.join(table[key])} {key}" for key in ("unplugged", "replaced") if table.get(key)]
    more += [f"box at {name} {value:g} {unit_words(units[name])}"
             for name, value in table.get("boxes", {}).items()]
    return ", ".join([table.get("state", ""), *more])


def lists_of(taken: Iterable[Taken]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Stored codes, live data and the head's reasons, the last that were read."""
    last = {one.instrument: one for one in taken}
    found = []
    if codes := last.get("stored codes"):
        found.append(("Stored codes", tuple(said(codes).split("; "))))
    if live := last.get("live data"):
        found.append(("Live data", tuple(map(_live_line, live.values.items()))))
        if live.reasons:
            found.append(("The head's decisions and why", live.reasons))
    return tuple(found)


def _live_line(item: tuple[str, Measured]) -> str:
    key, reading = item
    label = _ASKED.get(key, reading.label.removeprefix("live data, "))
    words = in_words(reading)
    if key in _LEVELS:
        words = _LEVELS[key][int(reading.value)]
    return f"{label}: {words}"
