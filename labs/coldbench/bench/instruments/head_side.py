"""Stored codes, live data and actuator tests, through the control head's service plug."""

from coldbench.bench.instruments.by_sight import sensed
from coldbench.bench.outfit import Outfit
from coldbench.bench.reading import Measured
from coldbench.bench.source import Scene
from coldbench.bench.taken import Found, pick, shown
from coldbench.electrical.instruments import Refusal
from coldbench.sensing.codes import status_meaning

ASLEEP = "switch the ignition on: the control head answers the service tool only then"
SILENT = "the control head does not answer"


def codes(outfit: Outfit, scene: Scene) -> Found:
    """Return stored codes with their status bytes, or that the head does not answer."""
    found = _answer(scene)
    if not found["head answers"].value:
        return Found(found, SILENT)
    stored = pick(scene.values, *sorted(k for k in scene.values if k.startswith("code ")))
    said = [f"{key.removeprefix('code ')}: {status_meaning(int(reading.value))}"
            for key, reading in stored.items()]
    return Found(stored or {"codes": found["head answers"]._replace(value=0.0, label="codes")},
                 "; ".join(said) or "no codes stored")


def live(outfit: Outfit, scene: Scene) -> Found:
    """Return what the head believes and asks for, or that it does not answer."""
    found = _answer(scene)
    if not found["head answers"].value:
        return Found(found, SILENT)
    keys = [key for key in scene.values if key.split(" ")[0] in ("live", "request")]
    found = pick(scene.values, *keys)
    return Found(found, "; ".join(_told(key, one) for key, one in found.items()),
                 scene.reasons)


def _told(key: str, reading: Measured) -> str:
    """A line of live data, short."""
    topic = key.removeprefix("request ")
    if topic == "fans":
        return f"fans asked for: {('off', 'low', 'high')[int(reading.value)]}"
    if reading.unit == "":
        return f"{topic} asked for: {'yes' if reading.value else 'no'}"
    name = topic.removeprefix("live ") + (" asked for" if topic != key else "")
    return shown(key, reading._replace(label=name, uncertainty=0.0))


def actuate(outfit: Outfit, scene: Scene, what: str) -> Found:
    """Return what is seen, heard and measured while the head drives something.

    Parameters
    ----------
    outfit : Outfit
        Names of the bench.
    scene : Scene
        As it stands.
    what : str
        One of the outfit's tests.

    Returns
    -------
    Found

    Raises
    ------
    InputError
        Unknown test; names them.
    Refusal
        The ignition is off.
    """
    outfit.one_of("actuator test", what, outfit.tests)
    answers = _answer(scene)
    if not answers["head answers"].value:
        return Found(answers, SILENT)
    values = scene.test(what)
    found = pick(values, *_felt(outfit, what))
    return Found(found, "; ".join(sensed(key, one) for key, one in found.items()))


def _felt(outfit: Outfit, what: str) -> list[str]:
    """Keys of what tells whether a test did something."""
    topic, door = what.split(" ")[0], what.rpartition(" door ")[0]
    if door:
        return [f"door {door}", f"live door {door}"]
    if topic == "fans":
        return [*(f"fan {name}" for name in outfit.fans), "condenser flow",
                *(f"current {name}" for name in outfit.fans)]
    if topic == "blower":
        return ["blower", "vent flow", f"current {outfit.blower}"]
    return ["clutch", f"current {outfit.clutch}", "gauge high", "gauge low"]


def _answer(scene: Scene) -> dict:
    if not scene.ignition:
        raise Refusal(ASLEEP)
    return pick(scene.values, "head answers")
