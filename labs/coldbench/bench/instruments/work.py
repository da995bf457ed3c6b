"""Work on the bench: sensor box, unplugging, replacing, and the test run after it."""

import math
from dataclasses import replace
from typing import Any

from coldbench.bench.outfit import Outfit, among
from coldbench.bench.reading import Measured
from coldbench.bench.standing import Standing
from coldbench.bench.taken import Found, with_sign
from coldbench.electrical.instruments import Refusal
from coldbench.errors import InputError

LIVE = {"unplug": "switch the ignition off before a connector is pulled: an arc or a voltage peak "
                  "can damage parts, and the head stores codes",
        "plug": "switch the ignition off before a connector is put on",
        "replace": "switch drive and ignition off before a part is replaced; let nothing turn, and "
                   "take care of hot and pressurised parts"}


def refuse_live(ignition: bool, action: str) -> None:
    """Raise a `Refusal` for work on a bench whose ignition is on."""
    if ignition and action in LIVE:
        raise Refusal(LIVE[action])


def sensor_named(outfit: Outfit, name: str) -> str:
    """Return the input of a sensor, by its own name or a signal's; InputError lists them."""
    for found, one in outfit.sensors.items():
        if name == found or name in one["signals"]:
            return found
    raise InputError(f"{outfit.name} has no sensor {name!r} for a sensor box; it has "
                     f"{', '.join(outfit.sensors)}")


def box_value(outfit: Outfit, name: str, value: float | None) -> float | None:
    """Return a sensor box's value, checked against the sensor's range; InputError gives it."""
    if value is None:
        return None
    one = outfit.sensors[name]
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
        raise InputError(f"sensor box, {name}: {value!r} is not a number in {one['unit']}")
    if not one["low"] <= value <= one["high"]:
        raise InputError(f"sensor box, {name}: {value:g} is outside {one['low']:g} to "
                         f"{one['high']:g} {one['unit']}")
    return float(value)


def part_named(outfit: Outfit, part: str) -> str:
    """Return a part that can be put right, whatever its capitals; InputError lists some."""
    known = {name.casefold(): name for name in outfit.parts}
    found = known.get(str(part).strip().casefold())
    if found is None:
        raise InputError(f"{outfit.name} has no part {part!r}; {among(part, outfit.parts)}")
    return found


def boxed(standing: Standing, name: str, value: float | None) -> Standing:
    """Return a standing with a sensor box, or without it for None."""
    boxes = {key: old for key, old in standing.boxes if key != name}
    if value is not None:
        boxes[name] = value
    return replace(standing, boxes=tuple(sorted(boxes.items())))


def unplugged(standing: Standing, part: str) -> Standing:
    """Return a standing with a part off."""
    return replace(standing, unplugged=tuple(dict.fromkeys((*standing.unplugged, part))))


def plugged(standing: Standing, part: str) -> Standing:
    """Return a standing with a part on again."""
    return replace(standing, unplugged=tuple(p for p in standing.unplugged if p != part))


def replaced(standing: Standing, part: str) -> Standing:
    """Return a standing with a part put right; it is plugged in then."""
    after = replace(standing, replaced=tuple(dict.fromkeys((*standing.replaced, part))))
    return plugged(after, part)


def check_standing(outfit: Outfit, standing: Standing) -> None:
    """Raise InputError for a standing that names what the bench does not have."""
    outfit.one_of("state", standing.state, outfit.states)
    for part in standing.unplugged:
        outfit.one_of("part or wire to unplug", part, outfit.pluggable)
    for part in standing.replaced:
        outfit.one_of("part", part, outfit.parts)
    for name, value in standing.boxes:
        box_value(outfit, outfit.one_of("sensor", name, outfit.sensors), value)


def done(outfit: Outfit, instrument: str, arguments: dict[str, Any]) -> str:
    """Say what was done."""
    if instrument == "sensor box":
        if arguments["value"] is None:
            return "the sensor is back in its place"
        unit = outfit.sensors[arguments["input"]]["unit"]
        return f"in place of the sensor, set to {arguments['value']:g}{with_sign(unit)}"
    return {"unplug": "off", "plug": "on again", "replace": "put right"}[instrument]


def confirmed(standing: Standing, differing: tuple[str, ...]) -> Found:
    """Return how many operating states show anything else than a sound bench does.

    Raises: Refusal while something is unplugged or a sensor box is in place.
    """
    if standing.unplugged or standing.boxes:
        raise Refusal("put back what is unplugged and take the sensor boxes out before the bench "
                      "is run in all its states")
    count = Measured(float(len(differing)), "", 0.0, "states off the sound bench's record")
    said = (f"not as a sound bench in {', '.join(differing)}" if differing
            else "as a sound bench in every operating state")
    return Found({"states off": count}, said)
