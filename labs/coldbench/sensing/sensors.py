"""The list of sensors (`data/sensors.toml`), checked on load, and what each kind does.

A sensor turns a physical value into a parameter of its part in the circuit; a control unit
turns the ratio V/V_ref at its input back into a value. SI throughout:

    kind            quantity        unit     part of the circuit     parameter
    thermistor      temperature     K        variable_resistor       resistance_ohm
    platinum        temperature     K        variable_resistor       resistance_ohm
    transducer      gauge pressure  Pa       ratio_output            ratio
    photodiode      irradiance      W/m2     current_source          current_A
    potentiometer   position        1        potentiometer           position (of the wiper)
"""

from dataclasses import dataclass
from functools import lru_cache
from importlib import resources

import numpy as np

from coldbench.errors import InputError
from coldbench.sensing.checks import checked
from coldbench.sensing.photodiode import SunSensor
from coldbench.sensing.platinum import (
    HIGHEST_TEMPERATURE_K, LOWEST_TEMPERATURE_K, platinum_resistance, platinum_slope,
    platinum_temperature)
from coldbench.sensing.potentiometer import FeedbackPotentiometer
from coldbench.sensing.schema import Field, parse_toml, read_table
from coldbench.sensing.thermistor import (
    ThermistorCurve, beta_curve, extended_curve, steinhart_hart_curve)
from coldbench.sensing.thermistor_fit import fit_steinhart_hart
from coldbench.sensing.transducer import PressureTransducer

FILE = "sensors.toml"
QUANTITIES = {"thermistor": ("temperature", "K"), "platinum": ("temperature", "K"),
              "transducer": ("gauge pressure", "Pa"), "photodiode": ("irradiance", "W/m2"),
              "potentiometer": ("position", "1")}
"""Kind of sensor → quantity and SI unit."""
PARAMETERS = {"thermistor": "resistance_ohm", "platinum": "resistance_ohm", "transducer": "ratio",
              "photodiode": "current_A", "potentiometer": "position"}
"""Kind of sensor → parameter of its part in the circuit."""
PULLED_UP = ("thermistor", "platinum", "photodiode")
"""Kinds that need a pull-up."""


@dataclass(frozen=True)
class PlatinumSensor:
    """A platinum thermometer with its resistance at 0 °C [Ohm]; see `platinum`."""

    resistance_0_ohm: float = 100.0
    lowest_temperature_K: float = LOWEST_TEMPERATURE_K
    highest_temperature_K: float = HIGHEST_TEMPERATURE_K

    def resistance(self, temperature_K):
        """Resistance [Ohm] at a temperature [K]."""
        return platinum_resistance(temperature_K, self.resistance_0_ohm)

    def temperature(self, resistance_ohm):
        """Temperature [K] of a resistance [Ohm]."""
        return platinum_temperature(resistance_ohm, self.resistance_0_ohm)

    def slope(self, temperature_K):
        """Slope [Ohm/K] at a temperature [K]."""
        return platinum_slope(temperature_K, self.resistance_0_ohm)

    @property
    def resistance_range_ohm(self) -> tuple[float, float]:
        """Lowest and highest resistance [Ohm]."""
        return (self.resistance(self.lowest_temperature_K),
                self.resistance(self.highest_temperature_K))


@dataclass(frozen=True)
class Sensor:
    """One sensor of the list.

    Parameters
    ----------
    name, label, kind, source : str
        As in the file.
    model : object
        ThermistorCurve, PlatinumSensor, PressureTransducer, SunSensor or
        FeedbackPotentiometer.
    dissipation_W_K : float or None
        Heat that warms the sensor by 1 K; None where heat does not matter [W/K].
    """

    name: str
    label: str
    kind: str
    source: str
    model: object
    dissipation_W_K: float | None = None

    @property
    def quantity(self) -> str:
        """What it measures."""
        return QUANTITIES[self.kind][0]

    @property
    def unit(self) -> str:
        """SI unit of the quantity."""
        return QUANTITIES[self.kind][1]

    def parameter(self, value):
        """Return the part's parameter (see the module's table) at a physical value.

        Parameters
        ----------
        value : float or array_like
            Physical value [SI].

        Returns
        -------
        float or ndarray
            Resistance [Ohm], ratio, current [A] or wiper position.

        Raises
        ------
        InputError
            If the value is outside the sensor's range.

        Examples
        --------
        >>> round(load_sensors()["pt100"].parameter(373.15), 2)
        138.51
        """
        return getattr(self.model, _FORWARD[self.kind])(value)

    def value(self, ratio, pull_up_ohm: float | None = None, reference_V: float = 5.0):
        """Return what a control unit makes of V/V_ref at its input.

        Resistances beyond the ends of a temperature curve count as its ends, as in a
        control unit's table.

        Parameters
        ----------
        ratio : float or array_like
            V/V_ref, above 0 and below 1.
        pull_up_ohm : float, optional
            Pull-up, for kinds in `PULLED_UP` [Ohm].
        reference_V : float
            Nominal reference, only used for a current [V].

        Returns
        -------
        float or ndarray
            Value [SI].

        Raises
        ------
        InputError
            If the ratio is not between 0 and 1 or the pull-up is missing.

        Examples
        --------
        >>> round(load_sensors()["ntc-10k-3435"].value(0.5, 10e3) - 273.15, 3)
        25.0
        """
        share = checked(ratio, "input ratio", 0.0, 1.0)
        if self.kind not in PULLED_UP:
            return getattr(self.model, _BACKWARD[self.kind])(share)
        pull_up = checked(pull_up_ohm, "pull-up", 0.0, unit="Ohm", above=True)
        if self.kind == "photodiode":
            return self.model.irradiance((1.0 - share) * reference_V / pull_up)
        open_below_one = np.minimum(share, 1.0 - 1e-9)
        ohm = pull_up * open_below_one / (1.0 - open_below_one)
        return self.model.temperature(np.clip(ohm, *self.model.resistance_range_ohm))


_FORWARD = {"thermistor": "resistance", "platinum": "resistance", "transducer": "ratio",
            "photodiode": "current", "potentiometer": "fraction"}
_BACKWARD = {"transducer": "pressure", "potentiometer": "position"}

_COMMON = {"kind": Field(str), "label": Field(str), "source": Field(str)}
_RANGE = {"lowest_degC": Field(float, -200.0, 850.0), "highest_degC": Field(float, -200.0, 850.0)}
_HEAT = {"dissipation_mW_K": Field(float, 1e-3)}
_R25 = {"resistance_25_ohm": Field(float, 1e-3)}
_FORMS = {
    "table": {"table_degC": Field(list, -100.0, 400.0), "table_ohm": Field(list, 1e-3)},
    "beta": {**_R25, "beta_K": Field(float, 1.0), **_RANGE},
    "steinhart-hart": {**{key: Field(float) for key in "ABC"}, **_RANGE},
    "extended": {**{key: Field(float) for key in ("A1", "B1", "C1", "D1")}, **_R25, **_RANGE},
}
_RATIO = Field(float, 0.0, 1.0)
_KINDS = {
    "platinum": {"resistance_0_ohm": Field(float, 1e-3), **_HEAT},
    "transducer": {"full_scale_kPa": Field(float, 1e-3), "zero_ratio": _RATIO,
                   "full_ratio": _RATIO, "lowest_ratio": _RATIO, "highest_ratio": _RATIO},
    "photodiode": {"sensitivity_uA_m2_W": Field(float, 1e-6), "dark_current_nA": Field(float, 0.0)},
    "potentiometer": {"track_ohm": Field(float, 1e-3), "start_fraction": _RATIO,
                      "end_fraction": _RATIO},
}


def sensor_fields() -> dict[str, dict[str, Field]]:
    """Return the keys that each kind of sensor has, thermistors by the form of their curve.

    Returns
    -------
    dict of str to dict of str to Field

    Examples
    --------
    >>> list(sensor_fields()["photodiode"])[-2:]
    ['sensitivity_uA_m2_W', 'dark_current_nA']
    """
    thermistors = {f"thermistor, {form}": {**_COMMON, "form": Field(str), **own, **_HEAT}
                   for form, own in _FORMS.items()}
    return thermistors | {kind: {**_COMMON, **own} for kind, own in _KINDS.items()}


def read_sensors_file(text: str, file: str = FILE) -> dict[str, Sensor]:
    """Read and check a list of sensors.

    Parameters
    ----------
    text : str
        TOML text in the form described at the top of `sensors.toml`.
    file : str
        Name for messages.

    Returns
    -------
    dict[str, Sensor]
        By name, in the order of the file.

    Raises
    ------
    InputError
        Naming file, key and reason.

    Examples
    --------
    >>> read_sensors_file("[sensor.x]\\nkind = 'gyroscope'")
    Traceback (most recent call last):
    coldbench.errors.InputError: sensors.toml: sensor.x: kind must be one of thermistor, \
platinum, transducer, photodiode, potentiometer
    """
    tables = parse_toml(text, file)
    if set(tables) != {"sensor"} or not isinstance(tables["sensor"], dict):
        raise InputError(f"{file}: wants the tables [sensor.<name>] and nothing else")
    return sensors_from_tables(tables["sensor"], file)


def sensors_from_tables(tables: dict, file: str) -> dict[str, Sensor]:
    """Check sensors that were read before, such as a part of a bench file.

    Parameters
    ----------
    tables : dict
        Name → table of the sensor, as `tomllib` gives it.
    file : str
        Name for messages.

    Returns
    -------
    dict[str, Sensor]

    Raises
    ------
    InputError
        Naming file, key and reason.
    """
    return {name: _sensor(name, table, f"{file}: sensor.{name}")
            for name, table in tables.items()}


def _sensor(name: str, table: object, where: str) -> Sensor:
    kind = table.get("kind") if isinstance(table, dict) else None
    if not isinstance(kind, str) or kind not in QUANTITIES:
        raise InputError(f"{where}: kind must be one of {', '.join(QUANTITIES)}")
    form = table.get("form")
    if kind == "thermistor" and (not isinstance(form, str) or form not in _FORMS):
        raise InputError(f"{where}: form must be one of {', '.join(_FORMS)}")
    fields = (_KINDS[kind] if kind != "thermistor"
              else {"form": Field(str), **_FORMS[table["form"]], **_HEAT})
    values = read_table(table, {**_COMMON, **fields}, where)
    heat = values.get("dissipation_mW_K")
    try:
        model = _model(kind, values)
    except InputError as error:
        raise InputError(f"{where}: {error}") from None
    return Sensor(name, values["label"], kind, values["source"], model,
                  None if heat is None else heat * 1e-3)


def _model(kind: str, v: dict) -> object:
    if kind == "platinum":
        return PlatinumSensor(v["resistance_0_ohm"])
    if kind == "transducer":
        return PressureTransducer(v["full_scale_kPa"] * 1e3, v["zero_ratio"], v["full_ratio"],
                                  v["lowest_ratio"], v["highest_ratio"])
    if kind == "photodiode":
        return SunSensor(v["sensitivity_uA_m2_W"] * 1e-6, v["dark_current_nA"] * 1e-9)
    if kind == "potentiometer":
        return FeedbackPotentiometer(v["track_ohm"], v["start_fraction"], v["end_fraction"])
    return _thermistor(v)


def _thermistor(v: dict) -> ThermistorCurve:
    if v["form"] == "table":
        return fit_steinhart_hart([t + 273.15 for t in v["table_degC"]], v["table_ohm"])
    span = (v["lowest_degC"] + 273.15, v["highest_degC"] + 273.15)
    if v["form"] == "beta":
        return beta_curve(v["resistance_25_ohm"], v["beta_K"], *span)
    if v["form"] == "steinhart-hart":
        return steinhart_hart_curve(v["A"], v["B"], v["C"], *span)
    return extended_curve(v["A1"], v["B1"], v["C1"], v["D1"], v["resistance_25_ohm"], *span)


@lru_cache(maxsize=1)
def load_sensors() -> dict[str, Sensor]:
    """Return the shipped sensors by name.

    Returns
    -------
    dict[str, Sensor]

    Examples
    --------
    >>> load_sensors()["pressure-32"].quantity
    'gauge pressure'
    """
    text = resources.files("coldbench.sensing").joinpath("data", FILE).read_text("utf-8")
    return read_sensors_file(text)
