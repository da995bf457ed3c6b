"""Gauges, pipe thermometer, sight glass, recovery and leak search."""

from coldbench.bench.outfit import Outfit
from coldbench.bench.reading import Measured
from coldbench.bench.source import Scene
from coldbench.bench.taken import Found, listed, pick
from coldbench.bench.uncertainty import uncertainty
from coldbench.electrical.instruments import Refusal

RUNNING = ("switch the drive off first: {what} with the compressor running can burst hoses and "
           "ruins the machine")
LEAST_LEAK_kPa = 340.0
"""Gauge pressure a leak search wants. Source: SAE J1628, from memory."""


def gauges(outfit: Outfit, scene: Scene) -> Found:
    """Return both gauges."""
    return _listed(pick(scene.values, "gauge high", "gauge low"))


def pipe(outfit: Outfit, scene: Scene, place: str) -> Found:
    """Return the temperature of a pipe at a named place; InputError lists the places."""
    return _listed(pick(scene.values, f"pipe {outfit.one_of('pipe', place, outfit.pipes)}"))


def sight_glass(outfit: Outfit, scene: Scene) -> Found:
    """Return whether bubbles go by behind the sight glass (1) or not (0)."""
    if not outfit.sight_glass:
        raise Refusal("this bench has no sight glass; pressures and the liquid line's temperature "
                      "tell as much")
    if scene.bubbles > 0.0:
        said = "bubbles go by"
    else:
        said = "clear"
    seen = Measured(float(scene.bubbles > 0.0), "", 0.0, "bubbles in the sight glass")
    return Found({"sight glass": seen}, said)


def recover(outfit: Outfit, scene: Scene) -> Found:
    """Return the weight of refrigerant that came out; the same weight goes back in."""
    if scene.running:
        raise Refusal(RUNNING.format(what="recovering"))
    found = Measured(scene.charge_kg, "kg", uncertainty("kg", "weight", scene.charge_kg),
                     "recovered")
    found = pick({"weight recovered": found}, "weight recovered")
    return Found(found, f"{listed(found)}; the same weight was charged again")


def leak_search(outfit: Outfit, scene: Scene) -> Found:
    """Return whether the detector finds a leak (1) or none (0)."""
    if scene.running:
        raise Refusal("switch the drive off and wait until fans and blower stand: moving air "
                      "carries the gas away, and belts and fans catch hands")
    if scene.values["gauge high"].value < LEAST_LEAK_kPa:
        raise Refusal(f"there is less than {LEAST_LEAK_kPa:g} kPa in the system; a leak would not "
                      "show, so charge some refrigerant or use nitrogen first")
    said = ("the detector sounds at a joint of the refrigerant circuit" if scene.leaks
            else "the detector stays silent all round the circuit")
    return Found({"leak": Measured(float(scene.leaks), "", 0.0, "leak found")}, said)


def _listed(found: dict[str, Measured]) -> Found:
    return Found(found, listed(found))
