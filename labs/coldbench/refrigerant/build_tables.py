"""Builds the saturation tables that ship with the package.

Run `python -m coldbench.refrigerant.build_tables` after a change to `fluids.toml` or to
the CoolProp version; it rewrites `saturation_tables/*.json`, then `property_tables/*.npz` (see
`build_property_tables`). Each file records the CoolProp version, the equation of state and a
fingerprint of its contents.

Each curve: 241 nodes uniform in ln p. The saturation pressure is inverted at each
node to the temperature; slopes come from a cubic spline through the nodes.
"""

import json
from pathlib import Path

from coldbench.refrigerant.fingerprint import fingerprint
from coldbench.refrigerant.records import RECORDS, FluidRecord

NODES = 241
FOLDER = Path(__file__).parent / "saturation_tables"
LAYOUT = 1


def node_temperatures(state, quality: int, lowest_K: float, highest_K: float):
    """Return ln p and T at nodes uniform in ln p.

    Parameters
    ----------
    state : CoolProp.AbstractState
        Fluid.
    quality : int
        0 bubble, 1 dew.
    lowest_K, highest_K : float
        Temperature limits [K].

    Returns
    -------
    tuple[numpy.ndarray, numpy.ndarray]
        ln(p / 1 Pa), shape (NODES,); temperature [K], shape (NODES,).

    Raises
    ------
    ValueError
        From CoolProp, where the limits leave its range.

    Examples
    --------
    >>> from CoolProp import AbstractState
    >>> log_p, T = node_temperatures(AbstractState("HEOS", "R134a"), 0, 250.0, 300.0)
    >>> log_p.shape, round(float(T[-1]), 6)
    ((241,), 300.0)
    """
    import numpy as np
    from CoolProp import QT_INPUTS
    from scipy.optimize import brentq

    def log_pressure(temperature_K: float) -> float:
        state.update(QT_INPUTS, quality, temperature_K)
        return float(np.log(state.p()))

    log_p = np.linspace(log_pressure(lowest_K), log_pressure(highest_K), NODES)
    inner = [brentq(lambda T, at=at: log_pressure(T) - at, lowest_K, highest_K, xtol=1e-11,
                    rtol=1e-14) for at in log_p[1:-1]]
    return log_p, np.array([lowest_K, *inner, highest_K])


def curve_table(record: FluidRecord, quality: int) -> dict:
    """Return one curve as JSON data.

    Parameters
    ----------
    record : FluidRecord
        Fluid.
    quality : int
        0 bubble, 1 dew.

    Returns
    -------
    dict
        start, step, temperatures_K, slopes_K.

    Examples
    --------
    >>> curve_table(RECORDS["R134a"], 0)["temperatures_K"][0]
    170.0
    """
    from CoolProp import AbstractState
    from scipy.interpolate import CubicSpline

    log_p, T = node_temperatures(AbstractState("HEOS", record.library_name), quality,
                                 record.lowest_temperature_K, record.highest_temperature_K)
    slopes = CubicSpline(log_p, T)(log_p, 1)
    return {"start": float(log_p[0]), "step": float((log_p[-1] - log_p[0]) / (NODES - 1)),
            "temperatures_K": [round(float(t), 9) for t in T],
            "slopes_K": [round(float(s), 9) for s in slopes]}


def build_table(record: FluidRecord) -> dict:
    """Return the whole table of one fluid as JSON data, with its stamp.

    Parameters
    ----------
    record : FluidRecord
        Fluid.

    Returns
    -------
    dict
        layout, fluid, equation, coolprop, bubble, dew, fingerprint.

    Examples
    --------
    >>> sorted(build_table(RECORDS["R134a"]))
    ['bubble', 'coolprop', 'dew', 'equation', 'fingerprint', 'fluid', 'layout']
    """
    import CoolProp

    bubble = curve_table(record, 0)
    dew = curve_table(record, 1) if record.mass_fractions else bubble
    table = {"layout": LAYOUT, "fluid": record.name, "equation": record.equation,
             "coolprop": CoolProp.__version__, "bubble": bubble, "dew": dew}
    return {**table, "fingerprint": fingerprint(table)}


def main() -> None:
    """Write the saturation tables of all fluids, then the property tables of the loop fluids."""
    from coldbench.refrigerant import build_property_tables

    FOLDER.mkdir(exist_ok=True)
    for record in RECORDS.values():
        path = FOLDER / f"{record.name}.json"
        text = json.dumps(build_table(record), indent=1)
        path.write_text(text + "\n", encoding="utf-8")
        print(f"{path.name}: {path.stat().st_size / 1024:.0f} KiB")
    build_property_tables.main()


if __name__ == "__main__":
    main()
