"""What the bench is set to: weather, air into the coil, fans, speed, hand valve, charge.

A condition outside the range in which the loop's relations were tried is refused here, so that
nothing below extrapolates.
"""

import math
import numbers
from dataclasses import dataclass

from coldbench.errors import InputError
from coldbench.refrigerant.fluids import fluid as fluid_named

LOOP_FLUIDS = ("R134a", "R1234yf", "R152a")
FAN_AIRFLOW = {"off": 0.06, "low": 0.55, "high": 1.0}
NO_SPEED, LEAST_SPEED_RPM, MOST_SPEED_RPM = 0.0, 500.0, 5000.0

# field: (least, most, factor to the unit of the message, offset, unit of the message)
_RANGES = {
    "ambient_K": (278.15, 328.15, 1.0, -273.15, " degC"),
    "intake_K": (278.15, 328.15, 1.0, -273.15, " degC"),
    "intake_humidity": (0.0, 1.0, 100.0, 0.0, " %"),
    "blower": (0.0, 1.0, 100.0, 0.0, " %"),
    "valve_angle_deg": (0.0, 90.0, 1.0, 0.0, " degrees"),
    "charge": (0.2, 1.5, 100.0, 0.0, " %"),
    "atmosphere_Pa": (60e3, 110e3, 1e-3, 0.0, " kPa"),
    "fan_share": (0.0, 1.5, 100.0, 0.0, " %"),
}


@dataclass(frozen=True)
class Conditions:
    """Settings of the bench and the air around it; every field is checked when made.

    Parameters
    ----------
    fluid : str
        R134a, R1234yf or R152a (any spelling `fluid` knows).
    ambient_K : float
        Air onto the condenser and around the lines, 5 to 55 degC [K].
    intake_K : float
        Air into the evaporator, 5 to 55 degC [K].
    intake_humidity : float
        Relative humidity of that air, 0 to 1.
    blower : float
        Blower setting, 0 to 1; at 0 a little air still passes by convection.
    condenser_fan : str
        "off", "low" or "high".
    speed_rpm : float
        Compressor speed, 0 (at rest) or 500 to 5000 [1/min].
    valve_angle_deg : float
        Hand valve in the liquid line, 0 (open) to 90 (only the bleed hole is open).
    charge : float
        Mass of refrigerant as a share of the right charge, 0.2 to 1.5.
    atmosphere_Pa : float
        Pressure of the air at the place, 60 to 110 kPa [Pa].
    clutch_engaged : bool
        False: the compressor stands still and the loop has come to rest.
    fan_share : float, optional
        Airflow that the fans drive through the condenser as a share of that at "high", 0 to
        1.5, in place of the word `condenser_fan`: for fans whose speed is known.

    Raises
    ------
    InputError
        Naming the argument and the accepted range.

    Examples
    --------
    >>> Conditions(fluid="R-134a").fluid
    'R134a'
    >>> Conditions(intake_humidity=1.3)
    Traceback (most recent call last):
    coldbench.errors.InputError: intake_humidity 130 % is outside 0 to 100 %
    """

    fluid: str = "R134a"
    ambient_K: float = 303.15
    intake_K: float = 300.15
    intake_humidity: float = 0.5
    blower: float = 1.0
    condenser_fan: str = "high"
    speed_rpm: float = 1500.0
    valve_angle_deg: float = 0.0
    charge: float = 1.0
    atmosphere_Pa: float = 101_325.0
    clutch_engaged: bool = True
    fan_share: float | None = None

    def __post_init__(self) -> None:
        name = fluid_named(self.fluid).name
        if name not in LOOP_FLUIDS:
            raise InputError(f"fluid {self.fluid!r} cannot run in this loop; accepted: "
                             f"{', '.join(LOOP_FLUIDS)}")
        object.__setattr__(self, "fluid", name)
        for field in _RANGES:
            if field == "fan_share" and self.fan_share is None:
                continue
            object.__setattr__(self, field, _within(field, getattr(self, field)))
        object.__setattr__(self, "speed_rpm", _speed(self.speed_rpm))
        condenser_airflow(self.condenser_fan)
        if not isinstance(self.clutch_engaged, bool):
            raise InputError(f"clutch_engaged must be True or False, not {self.clutch_engaged!r}")

    @property
    def condenser_airflow(self) -> float:
        """Airflow through the condenser as a share of that at high fan speed."""
        if self.fan_share is None:
            return condenser_airflow(self.condenser_fan)
        return driven_airflow(self.fan_share)

    @property
    def running(self) -> bool:
        """True where the compressor turns."""
        return self.clutch_engaged and self.speed_rpm > NO_SPEED


def condenser_airflow(fan: str) -> float:
    """Return the airflow through the condenser for a fan setting.

    Parameters
    ----------
    fan : str
        "off", "low" or "high".

    Returns
    -------
    float
        Share of the airflow at "high"; "off" leaves natural convection.

    Raises
    ------
    InputError
        For any other word.

    Examples
    --------
    >>> condenser_airflow("low")
    0.55
    """
    if fan not in FAN_AIRFLOW:
        raise InputError(f"condenser_fan {fan!r} is unknown; accepted: {', '.join(FAN_AIRFLOW)}")
    return FAN_AIRFLOW[fan]


def driven_airflow(fan_share: float) -> float:
    """Return the airflow through the condenser for a share driven by fans.

    Natural convection and driven air combine as the root of the sum of squares, so that either
    alone is itself (a simplification of ours).

    Parameters
    ----------
    fan_share : float
        Share of the airflow at "high" that the fans drive.

    Returns
    -------
    float
        Share of the airflow at "high".

    Examples
    --------
    >>> driven_airflow(0.0), round(driven_airflow(0.55), 3)
    (0.06, 0.553)
    """
    return math.hypot(FAN_AIRFLOW["off"], fan_share)


def finite_number(name: str, value: float) -> float:
    """Return the value as float if it is a finite real number.

    Parameters
    ----------
    name : str
        Argument for the message.
    value : float
        Anything.

    Returns
    -------
    float

    Raises
    ------
    InputError
        If it is not a finite number.

    Examples
    --------
    >>> finite_number("charge", 1)
    1.0
    """
    if isinstance(value, bool) or not isinstance(value, numbers.Real) or not math.isfinite(value):
        raise InputError(f"{name} must be a finite number, not {value!r}")
    return float(value)


def _within(field: str, value: float) -> float:
    least, most, factor, offset, unit = _RANGES[field]
    number = finite_number(field, value)
    if not least <= number <= most:
        shown = (v * factor + offset for v in (number, least, most))
        said, low, high = (f"{v:.10g}" for v in shown)
        raise InputError(f"{field} {said}{unit} is outside {low} to {high}{unit}")
    return number


def _speed(value: float) -> float:
    speed = finite_number("speed_rpm", value)
    if speed != NO_SPEED and not LEAST_SPEED_RPM <= speed <= MOST_SPEED_RPM:
        raise InputError(f"speed_rpm {speed:g} rpm is outside {LEAST_SPEED_RPM:g} to "
                         f"{MOST_SPEED_RPM:g} rpm (or 0 rpm: at rest)")
    return speed
