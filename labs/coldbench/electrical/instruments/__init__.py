"""The workshop's instruments on a solved circuit: meters, test lamp, oscilloscope.

    voltmeter, drop → Reading      10 MΩ, floating leads, voltage drop along a path
    ohmmeter → Reading or Refusal  dead circuits only
    clamp, clamp_between → Reading current in a wire or part
    lamp → Reading, with_lamp      a real load
    scope → Trace                  the same parts through time

`instruments.toml` says what each resolves and how far it may be off.
"""

from coldbench.electrical.instruments.case import power_off
from coldbench.electrical.instruments.clamp import (
    all_ways, clamp, clamp_between, path_between, way_currents)
from coldbench.electrical.instruments.data import Instrument, bulb, instrument, instruments
from coldbench.electrical.instruments.lamp import lamp, with_lamp
from coldbench.electrical.instruments.ohmmeter import ohmmeter, refuse_if_live, resistance
from coldbench.electrical.instruments.reading import Reading, Refusal
from coldbench.electrical.instruments.scope import Trace, scope
from coldbench.electrical.instruments.voltmeter import drop, loaded_voltage, voltmeter

__all__ = [
    "Instrument", "Reading", "Refusal", "Trace", "all_ways", "bulb", "clamp", "clamp_between", "drop",
    "instrument", "instruments", "lamp", "loaded_voltage", "ohmmeter", "path_between",
    "power_off", "refuse_if_live", "resistance", "scope", "voltmeter", "way_currents", "with_lamp",
]
