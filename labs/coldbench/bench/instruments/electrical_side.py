"""Meter, current clamp, test lamp and oscilloscope at the wiring of a bench."""

import math

from coldbench.bench.outfit import Outfit
from coldbench.bench.reading import Measured
from coldbench.bench.source import Scene
from coldbench.bench.taken import Found
from coldbench.electrical.instruments import Reading, Refusal, instrument, resistance, voltmeter
from coldbench.electrical.instruments.reading import read_display, rounded_text

MODES = {"volts": "voltmeter", "ohms": "ohmmeter", "amps": "ammeter"}
LIVE = ("engine and ignition off before the ohmmeter: on a live circuit it gives a wrong number "
        "and may be damaged")
SHORT = ("nothing but a wire or fuse may lie between {red} and {black}: an ammeter goes in line "
         "with it, and between any other two points it is a short circuit; use the current clamp")
_SCOPE_STEP_V = 0.01
DELICATE = ("no test lamp at {place}: its current can destroy a control unit; use the voltmeter "
            "on sensors and the head's inputs")


def meter(outfit: Outfit, scene: Scene, mode: str, red: str, black: str) -> Found:
    """Return what a meter shows between two nodes.

    Parameters
    ----------
    outfit : Outfit
        Names of the bench.
    scene : Scene
        As it stands.
    mode : str
        "volts"; "ohms", with the ignition off: the battery lead is taken off for it; "amps": in
        line with the wire or fuse that leads from red to black.
    red, black : str
        Nodes.

    Returns
    -------
    Found

    Raises
    ------
    Refusal
        Ohmmeter on a live circuit; ammeter where it would be a short circuit.
    """
    if mode == "volts":
        return _found("volts", "voltmeter", voltmeter(scene.live, red, black))
    if mode == "ohms":
        if scene.ignition:
            raise Refusal(LIVE)
        return _found("ohms", "ohmmeter", resistance(scene.dead, red, black))
    way = scene.between(red, black)
    if way is None:
        raise Refusal(SHORT.format(red=red, black=black))
    return _found("amps", "clamp", read_display(instrument("clamp"), way[1],
                                       f"In line with {', '.join(way[0])}."))


def clamp(outfit: Outfit, scene: Scene, branch: str) -> Found:
    """Return the current of a part or wire; InputError lists them."""
    outfit.one_of("part or wire", branch, outfit.branches)
    return _found("amps", "clamp", read_display(instrument("clamp"), scene.live.currents[branch]))


def lamp(outfit: Outfit, scene: Scene, red: str, black: str) -> Found:
    """Return what a test lamp between two nodes does; Refusal at sensors and head inputs."""
    for place in (red, black):
        if place in outfit.delicate:
            raise Refusal(DELICATE.format(place=place))
    lit = scene.lamp(red, black)
    return _found("lamp", "lamp", read_display(instrument("lamp"), lit.volts, lit.note))


def scope(outfit: Outfit, scene: Scene, red: str, black: str) -> Found:
    """Return what the oscilloscope shows between two nodes: mean, lowest, highest, pulses."""
    form = scene.trace(red, black)
    found = {name: _scope_volts(name, value)
             for name, value in (("mean", form.mean_V), ("lowest", form.lowest_V),
                                 ("highest", form.highest_V))}
    said = ", ".join(f"{name} {one.value:.2f} V" for name, one in found.items())
    if not form.frequency_Hz:
        return Found(found, f"{said}; a level line")
    share, high = instrument("scope").accuracy, float(round(100.0 * form.high_share))
    found["frequency"] = Measured(form.frequency_Hz, "Hz", share * form.frequency_Hz, "frequency")
    found["high"] = Measured(high, "%", 2.0, "share of the period above the middle")
    return Found(found, f"{said}; {form.frequency_Hz:g} Hz, {high:.0f} % of the period high")


def _scope_volts(name: str, value: float) -> Measured:
    shown = float(rounded_text(value, _SCOPE_STEP_V))
    return Measured(shown, "V", instrument("scope").accuracy * abs(shown) + _SCOPE_STEP_V, name)


def _found(name: str, tool: str, reading: Reading) -> Found:
    """A reading of the circuit's instruments; one that shows no number gives words alone."""
    note = f" ({reading.note.rstrip('.')})" if reading.note else ""
    if reading.floating or reading.overload:
        value = Measured(math.inf if reading.overload else math.nan, "", 0.0, reading.shown)
        return Found({name: value}, f"{reading.shown}{note}")
    value = float(reading.shown.split()[0])
    around = read_display(instrument(tool), value).uncertainty  # of what the display shows
    return Found({name: Measured(value, reading.unit, around, name)},
                 f"{_in_words(reading.shown, value, around, reading.unit)}{note}")


def _in_words(shown: str, value: float, around: float, unit: str) -> str:
    """A reading and its uncertainty; large resistances in megohms.

    >>> _in_words("3360000 Ω", 3.36e6, 3.2e4, "Ω"), _in_words("12.6 V", 12.6, 0.08, "V")
    ('3.36 MΩ ± 0.032 MΩ', '12.6 V ± 0.08 V')
    """
    if unit == "Ω" and value >= 1e5:
        return f"{value / 1e6:g} MΩ ± {around / 1e6:.2g} MΩ"
    return f"{shown} ± {around:.2g} {unit}"
