"""Required discharge temperature of each zone, from a heat balance with stated constants.

In balance the discharge air carries away what comes into the zone:

    load      = skin·(T_ambient − T_set) + glass·sun + people
                + Σ between·(T_set,neighbour − T_set) + recovery·(T_cabin − T_set)
    T_wanted  = T_set − load / (airflow·c_p)

The first four terms keep the cabin where it should be; the recovery term brings it there. The
airflow is a stated constant, not the blower's: so the balance can be done by hand, and what the
air cannot carry at that flow shows as an extreme T_wanted, which the blower curve answers with
more air. The recovery term is proportional control; its size is a maker's choice (common
practice). At an end stop of the set point no balance is made: full cold or full hot.
"""

from collections.abc import Mapping

from coldbench.control.calibration import Calibration, Zone
from coldbench.control.records import Demand
from coldbench.control.sensors import Believed
from coldbench.control.words import DEGC, WATT


def demands(set_points_K: tuple[float, ...], believed: Mapping[str, Believed],
            calibration: Calibration) -> tuple[Demand, ...]:
    """Balance all zones.

    Parameters
    ----------
    set_points_K : tuple of float
        Set point of each zone [K].
    believed : mapping of str to Believed
        Sensors.
    calibration : Calibration
        Constants.

    Returns
    -------
    tuple of Demand
    """
    balances = []
    for i, zone in enumerate(calibration.zones):
        neighbours = set_points_K[:i] + set_points_K[i + 1:]
        balances.append(balance(
            zone, set_points_K[i], neighbours, believed["cabin"].value,
            believed["ambient"].value, believed[f"sun {zone.name}"].value, calibration))
    return tuple(balances)


def balance(zone: Zone, set_point_K: float, neighbours_K: tuple[float, ...], cabin_K: float,
            ambient_K: float, sun_W_per_m2: float, calibration: Calibration) -> Demand:
    """Balance one zone.

    Parameters
    ----------
    zone : Zone
        Its constants.
    set_point_K : float
        Its set point [K].
    neighbours_K : tuple of float
        Set points of the other zones [K].
    cabin_K, ambient_K : float
        Temperatures inside and outside [K].
    sun_W_per_m2 : float
        Sun load on the zone [W/m²].
    calibration : Calibration
        Shared constants.

    Returns
    -------
    Demand

    Examples
    --------
    By hand, 32 °C outside, cabin and both zones at 22 °C, 400 W/m²: load = 15·10 + 0.35·400 + 110
    = 400 W; airflow·c_p = 0.05·1006 = 50.3 W/K; 22 − 400/50.3 = 14.0 °C.

    >>> from coldbench.control import load_calibration
    >>> blue = load_calibration("blue_head")
    >>> demand = balance(blue.zones[0], 295.15, (295.15,), 295.15, 305.15, 400.0, blue)
    >>> demand.load_W, round(demand.required_K - 273.15, 2)
    (400.0, 14.05)
    """
    shared = calibration.heat_balance
    terms = dict(
        skin_W=zone.skin_W_per_K * (ambient_K - set_point_K),
        sun_W=zone.glass_m2 * sun_W_per_m2,
        people_W=zone.people_W,
        neighbour_W=shared.between_zones_W_per_K * sum(n - set_point_K for n in neighbours_K),
        recovery_W=zone.recovery_W_per_K * (cabin_K - set_point_K),
    )
    carried = zone.airflow_kg_per_s * shared.air_heat_capacity_J_per_kg_K
    wanted = set_point_K - sum(terms.values()) / carried
    end_stop = _end_stop(set_point_K, calibration)
    if end_stop:
        curve, cold = calibration.blower.curve_K, end_stop == "full cold"
        wanted = curve[0] if cold else curve[-1]
        required = shared.least_discharge_K if cold else shared.most_discharge_K
    else:
        required = min(max(wanted, shared.least_discharge_K), shared.most_discharge_K)
    return Demand(zone.name, **terms, airflow_W_per_K=carried, wanted_K=wanted,
                  required_K=required, end_stop=end_stop)


def _end_stop(set_point_K: float, calibration: Calibration) -> str:
    if set_point_K <= calibration.set_point.lowest_K:
        return "full cold"
    return "full hot" if set_point_K >= calibration.set_point.highest_K else ""


def demand_words(demand: Demand, set_point_K: float) -> str:
    """Write a balance as a learner would.

    Parameters
    ----------
    demand : Demand
        From `balance`.
    set_point_K : float
        Set point of the zone [K].

    Returns
    -------
    str

    Examples
    --------
    >>> from coldbench.control import load_calibration
    >>> blue = load_calibration("blue_head")
    >>> print(demand_words(balance(blue.zones[0], 295.15, (295.15,), 297.15, 305.15, 400.0, blue),
    ...                    295.15))
    required left 12.5 °C = 22.0 °C − 480 W / 50.3 W/K; 480 W = skin 150 W + sun 140 W + \
people 110 W + neighbour 0 W + recovery 80 W
    """
    required = f"required {demand.zone} {DEGC(demand.required_K)}"
    if demand.end_stop:
        return f"{required}: set point {DEGC(set_point_K)} is the end stop, {demand.end_stop}"
    terms = " + ".join(f"{name} {WATT(getattr(demand, f'{name}_W'))}" for name in (
        "skin", "sun", "people", "neighbour", "recovery"))
    sign = "−" if demand.load_W >= 0.0 else "+"  # minus a negative load: the air must heat
    quotient = (f"{DEGC(set_point_K)} {sign} {WATT(abs(demand.load_W))} / "
                f"{demand.airflow_W_per_K:.1f} W/K")
    if demand.wanted_K == demand.required_K:
        return f"{required} = {quotient}; {WATT(demand.load_W)} = {terms}"
    return (f"{required}, the limit: {quotient} = {DEGC(demand.wanted_K)}; "
            f"{WATT(demand.load_W)} = {terms}")
