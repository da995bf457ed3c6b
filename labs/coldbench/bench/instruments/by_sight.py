"""What eyes and ears tell: free of charge, and without numbers an eye cannot read."""

from coldbench.bench.outfit import Outfit
from coldbench.bench.reading import Measured
from coldbench.control.calibration import DISTRIBUTIONS
from coldbench.bench.source import Scene
from coldbench.bench.taken import Found, pick, shown

_WORDS = {"fan": {-1.0: "turns backwards", 0.0: "stands still", 1.0: "turns slowly",
                  2.0: "turns fast"},
          "blower": {0.0: "not heard", 1.0: "heard faintly", 2.0: "heard", 3.0: "loud"},
          "clutch": {0.0: "the clutch is out", 1.0: "the clutch is pulled in"},
          "cycling": {0.0: "", 1.0: "the clutch pulls in and lets go again and again"},
          "display recirculation": {0.0: "fresh air", 1.0: "recirculated air"},
          "display compressor": {0.0: "compressor lamp off", 1.0: "compressor lamp on"},
          "head": {0.0: "the display is dead", 1.0: "the display answers"}}


def look(outfit: Outfit, scene: Scene) -> Found:
    """Return what is seen and heard: display, clutch, cycling, fans, blower, doors.

    Parameters
    ----------
    outfit : Outfit
        Names of the bench.
    scene : Scene
        As it stands.

    Returns
    -------
    Found
    """
    display = [f"display {what}" for what in (*(f"set {zone}" for zone in outfit.vents), "blower",
                                              "air", "recirculation", "compressor")]
    doors = [key for key in scene.values if _first(key) == "door"]
    fans = [f"fan {name}" for name in outfit.fans]
    found = pick(scene.values, "head answers", *display, "clutch", "cycling", *fans, "blower",
                 *doors)
    said = {key: sensed(key, reading) for key, reading in found.items()}
    if said.get("cycling"):
        said["clutch"] = ""  # it is never long in, nor long out
    return Found(found, "; ".join(text for text in said.values() if text))


def _first(key: str) -> str:
    return key.split(" ")[0]


def sensed(key: str, reading: Measured) -> str:
    """Return in words what eyes and ears make of a reading [str].

    >>> sensed("fan M1", Measured(2.0, "", 0.0, "fan 1"))
    'fan 1 turns fast'
    """
    if key == "display air":
        return f"air to {DISTRIBUTIONS[int(reading.value)]}"
    words = _WORDS.get(key, _WORDS.get(_first(key)))
    if words is None:
        return shown(key, reading._replace(label=reading.label.removesuffix(", as seen")))
    text = words[reading.value]
    return f"{reading.label} {text}" if _first(key) in ("fan", "blower") else text
