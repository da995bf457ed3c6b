"""Symptoms of a bench file: a complaint in words, and the readings by which it is known.

    [symptom."warm on the left side only"]
    state = "full cooling"
    when = [
      { reading = "vent left", comparison = "above", value = 22.0, unit = "degC" },
      { reading = "vent right", comparison = "below", value = 20.0, unit = "degC" },
    ]

A symptom shows where every condition holds. A reading that is not there, such as live data of a
head that does not answer, fulfils none. Where a bench cycles, readings are those of the
last phase before the clutch lets go, and "cycling" is 1.
"""

from collections.abc import Iterator

from coldbench.bench.model import Bench
from coldbench.bench.tables import Condition, Symptom

PIPES = ("compressor inlet", "compressor outlet", "liquid line", "after hand valve",
         "evaporator inlet", "suction line")
CLAMPED = ("source", "fuse", "motor", "coil", "lamp")
LIVE_UNITS = {"pressure": "kPa", "sun": "W/m2"}
NO_UNIT = "-"


def reading_units(bench: Bench) -> dict[str, str]:
    """Return every reading that a bench can show, with its unit, without solving it.

    Parameters
    ----------
    bench : Bench
        From `load_bench`.

    Returns
    -------
    dict of str to str
        Key of `BenchReading.values` → unit, "" for none. Codes are listed too.

    Examples
    --------
    >>> from coldbench.bench.files import load_bench
    >>> units = reading_units(load_bench("blue"))
    >>> units["vent left"], units["tp 12"], units["clutch"]
    ('degC', 'V', '')
    """
    head, found = bench.calibration, {"gauge high": "kPa", "gauge low": "kPa"}
    found |= {f"pipe {name}": "degC" for name in PIPES}
    found |= {f"vent {zone}": "degC" for zone in head.zone_names}
    found |= {"vent flow": "%", "condenser flow": "%"}
    found |= {f"tp {number}": "V" for number in bench.circuit.test_points}
    found |= {f"current {part.id}": "A" for part in bench.circuit.parts.values()
              if part.kind in CLAMPED}
    found |= {"clutch": "", "cycling": "", "head answers": ""}
    for door in head.door_names:
        found |= {f"door {door}": "%", f"live door {door}": "%"}
    found |= {f"live {name}": LIVE_UNITS.get(name.split(" ")[0], "degC")
              for name in head.sensor_names}
    found |= {f"request {name}": unit for name, unit in (
        ("compressor", ""), ("fans", ""), ("blower", "%"), ("recirculation", ""))}
    found |= {f"display set {zone}": "degC" for zone in head.zone_names}
    found |= {f"display {name}": unit for name, unit in (
        ("blower", "%"), ("air", ""), ("recirculation", ""), ("compressor", ""))}
    return found | {f"code {code.number}": "" for code in head.codes}


def symptom_mistakes(bench: Bench) -> Iterator[str]:
    """Yield symptoms' states and readings that the bench does not have, and units that do not fit.

    Parameters
    ----------
    bench : Bench
        With all but its symptoms checked.

    Yields
    ------
    str
        File, key and reason.
    """
    units = reading_units(bench) if bench.symptoms else {}
    for name, symptom in bench.symptoms.items():
        where = f"{bench.file}: symptom.{name}"
        if symptom.state not in bench.states:
            yield (f"{where}: state: there is no state {symptom.state!r}; states are "
                   f"{', '.join(bench.states)}")
        for n, one in enumerate(symptom.when, 1):
            if mistake := _condition_mistake(one, units):
                yield f"{where}: when {n}: {mistake}"


def _condition_mistake(one: Condition, units: dict[str, str]) -> str:
    if one.reading not in units:
        near = [key for key in units if key.split(" ")[0] == one.reading.split(" ")[0]] or units
        return f"reading: there is no reading {one.reading!r}; there are {', '.join(near)}"
    unit = units[one.reading] or NO_UNIT
    if one.unit == unit:
        return ""
    if one.unit == NO_UNIT:
        return f"unit is missing; {one.reading} is in {unit}"
    told = "has no unit" if unit == NO_UNIT else f"is in {unit}"
    return f"unit {one.unit!r} does not fit; {one.reading} {told}"


def holds(one: Condition, value: float) -> bool:
    """Return whether a condition holds for a value [bool].

    >>> holds(Condition("vent left", "above", 12.0, "degC"), 20.0)
    True
    """
    return {"above": value > one.value, "below": value < one.value,
            "equal to": value == one.value}[one.comparison]


def shows(symptom: Symptom, reading) -> bool:
    """Return whether a symptom shows in a reading.

    Parameters
    ----------
    symptom : Symptom
        One of `bench.symptoms`.
    reading : BenchReading
        Anything with `values`: key → something that has a `value`. It must be a reading in the
        symptom's state; that is the caller's business.

    Returns
    -------
    bool

    Examples
    --------
    >>> from coldbench.bench import load_bench, read
    >>> bench = load_bench("blue")
    >>> symptom = bench.symptoms["no air from the vents"]
    >>> shows(symptom, read(bench, symptom.state))
    False
    >>> shows(symptom, read(bench, symptom.state, ["MB:open"]))
    True
    """
    return all(one.reading in reading.values
               and holds(one, reading.values[one.reading].value) for one in symptom.when)


def symptoms_shown(reading) -> tuple[str, ...]:
    """Return the symptoms of a reading's bench that show in it, of its state alone.

    Parameters
    ----------
    reading : BenchReading
        From `read`.

    Returns
    -------
    tuple of str
        Names, in the order of the file.
    """
    return tuple(name for name, symptom in reading.bench.symptoms.items()
                 if symptom.state == reading.state and shows(symptom, reading))
