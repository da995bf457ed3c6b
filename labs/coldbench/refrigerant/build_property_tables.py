"""Builds the property tables of the loop fluids that ship with the package.

`python -m coldbench.refrigerant.build_tables` calls it. One file per fluid,
`property_tables/NAME.npz`: for vapour and liquid, nodes uniform in ln p (those of the
saturation curve) and in the distance from saturation of `hermite_grid`. Each node holds value,
slope along ln p, slope along the distance, and twist, all per cell. Slopes come from
cubic splines through a grid four times as fine. CoolProp's low-level interface is told the
phase, so nothing is flashed. Enthalpy and entropy: IIR reference, saturated liquid at 0 degC has
200 kJ/kg and 1 kJ/(kg K).
"""

import hashlib
import json
from pathlib import Path

from coldbench.refrigerant.fingerprint import fingerprint
from coldbench.refrigerant.hermite_grid import share_of
from coldbench.refrigerant.records import RECORDS, FluidRecord
from coldbench.refrigerant.saturation import SaturationCurve, load_curves

FOLDER = Path(__file__).parent / "property_tables"
LOOP_FLUIDS = ("R134a", "R1234yf", "R152a")
PROPERTIES = {"vapour": ("enthalpy", "entropy", "pressure_over_density"),
              "liquid": ("enthalpy", "entropy", "density")}
INTERVALS = {"vapour": 16, "liquid": 18}
LOWEST_PRESSURE_Pa = 5e3
HIGHEST_REDUCED_PRESSURE = 0.95
HIGHEST_TEMPERATURE_K = 480.0
LAYOUT = 1
FINE = 4


def pressure_nodes(record: FluidRecord, curve: SaturationCurve) -> tuple[int, int]:
    """Return the first and last node of the saturation curve that the tables need.

    Parameters
    ----------
    record : FluidRecord
        Fluid.
    curve : SaturationCurve
        Its saturation curve.

    Returns
    -------
    tuple[int, int]
        They enclose LOWEST_PRESSURE_Pa and HIGHEST_REDUCED_PRESSURE.

    Examples
    --------
    >>> pressure_nodes(RECORDS["R134a"], load_curves("R134a")["bubble"])
    (66, 240)
    """
    import math

    top_Pa = HIGHEST_REDUCED_PRESSURE * record.critical_pressure_Pa
    return (math.floor((math.log(LOWEST_PRESSURE_Pa) - curve.start) / curve.step),
            math.ceil((math.log(top_Pa) - curve.start) / curve.step))


def saturated(state, pressure_Pa: float, quality: int) -> tuple[float, float, float, float]:
    """Return temperature, enthalpy, entropy and density at saturation.

    Parameters
    ----------
    state : CoolProp.AbstractState
        Fluid.
    pressure_Pa : float
        Absolute pressure [Pa].
    quality : int
        0 liquid, 1 vapour.

    Returns
    -------
    tuple[float, float, float, float]
        T [K], h [J/kg], s [J/(kg K)], density [kg/m³]; zero points as in CoolProp.

    Examples
    --------
    >>> from CoolProp import AbstractState
    >>> round(saturated(AbstractState("HEOS", "R134a"), 292.8e3, 0)[0])
    273
    """
    from CoolProp import PQ_INPUTS, iphase_not_imposed

    state.specify_phase(iphase_not_imposed)
    state.update(PQ_INPUTS, pressure_Pa, quality)
    return state.T(), state.hmass(), state.smass(), state.rhomass()


def fine_values(state, phase: str, pressures_Pa, distances, far_K: float):
    """Return h, s and density on the fine grid.

    Parameters
    ----------
    state : CoolProp.AbstractState
        Fluid.
    phase : str
        "vapour" or "liquid".
    pressures_Pa : array, shape (n,)
        Absolute pressures [Pa].
    distances : array, shape (m,)
        Distances w from 0 to 1.
    far_K : float
        Temperature at w = 1 [K].

    Returns
    -------
    numpy.ndarray
        Shape (n, m, 3).

    Examples
    --------
    >>> from CoolProp import AbstractState
    >>> fine_values(AbstractState("HEOS", "R134a"), "vapour", [1e5], [0.0, 1.0], 480.0).shape
    (1, 2, 3)
    """
    import numpy as np
    from CoolProp import PT_INPUTS, iphase_gas, iphase_liquid

    values = np.empty((len(pressures_Pa), len(distances), 3))
    for i, pressure_Pa in enumerate(pressures_Pa):
        saturation_K, *values[i, 0] = saturated(state, pressure_Pa, phase == "vapour")
        state.specify_phase(iphase_gas if phase == "vapour" else iphase_liquid)
        for j, w in enumerate(distances[1:], 1):
            temperature_K = saturation_K + share_of(float(w)) * (far_K - saturation_K)
            state.update(PT_INPUTS, pressure_Pa, temperature_K)
            values[i, j] = state.hmass(), state.smass(), state.rhomass()
    return values


def with_slopes(values):
    """Return value, both slopes and twist per coarse cell from values on the fine grid.

    Parameters
    ----------
    values : numpy.ndarray, shape (FINE·n + 1, FINE·m + 1, k)
        Properties on the fine grid.

    Returns
    -------
    numpy.ndarray, shape (k, n + 1, m + 1, 4)

    Examples
    --------
    >>> import numpy as np
    >>> x, w = np.arange(9.0)[:, None, None], np.arange(9.0)[None, :, None]
    >>> with_slopes(x * w)[0, 1, 1].round(9).tolist()
    [16.0, 16.0, 16.0, 16.0]
    """
    import numpy as np
    from scipy.interpolate import CubicSpline

    def slope(f, axis: int):
        nodes = np.arange(f.shape[axis]) / FINE
        return CubicSpline(nodes, f, axis=axis)(nodes, 1)

    across = slope(values, 1)
    fine = np.stack([values, slope(values, 0), across, slope(across, 0)], axis=-1)
    return np.moveaxis(fine[::FINE, ::FINE], 2, 0)


def build_property_table(record: FluidRecord) -> dict:
    """Return the tables of one fluid, with their stamp.

    Parameters
    ----------
    record : FluidRecord
        Fluid.

    Returns
    -------
    dict
        "stamp": JSON text; "vapour", "liquid": arrays (3, pressures, distances, 4), float32.
        About 2 s.

    Examples
    --------
    >>> build_property_table(RECORDS["R152a"])["liquid"].shape
    (3, 177, 19, 4)
    """
    import CoolProp
    import numpy as np

    curve = load_curves(record.name)["bubble"]
    first, last = pressure_nodes(record, curve)
    state = CoolProp.AbstractState("HEOS", record.library_name)
    state.update(CoolProp.QT_INPUTS, 0, 273.15)
    shift = np.array([200e3 - state.hmass(), 1e3 - state.smass(), 0.0])
    fine = np.linspace(first, last, FINE * (last - first) + 1)
    pressures_Pa = np.exp(curve.start + curve.step * fine)
    far = {"vapour": HIGHEST_TEMPERATURE_K, "liquid": record.lowest_temperature_K}
    tables = {}
    for phase, far_K in far.items():
        distances = np.linspace(0.0, 1.0, FINE * INTERVALS[phase] + 1)
        values = fine_values(state, phase, pressures_Pa, distances, far_K) + shift
        if phase == "vapour":
            values[..., 2] = pressures_Pa[:, None] / values[..., 2]
        tables[phase] = with_slopes(values).astype("<f4")
    stamp = {"layout": LAYOUT, "fluid": record.name, "equation": record.equation,
             "coolprop": CoolProp.__version__, "far_temperatures_K": far,
             "equation_highest_temperature_K": state.Tmax(),
             "start": curve.start + curve.step * first, "step": curve.step,
             "contents": contents(tables)}
    stamp["fingerprint"] = fingerprint(stamp)
    return {"stamp": json.dumps(stamp), **tables}


def contents(tables: dict) -> str:
    """Return a hash of the arrays, for the stamp.

    Parameters
    ----------
    tables : dict
        "vapour" and "liquid": arrays of float32.

    Returns
    -------
    str
        16 hex digits.

    Examples
    --------
    >>> import numpy as np
    >>> len(contents({"vapour": np.zeros(2, "f4"), "liquid": np.ones(2, "f4")}))
    16
    """
    joined = b"".join(tables[phase].astype("<f4").tobytes() for phase in PROPERTIES)
    return hashlib.sha256(joined).hexdigest()[:16]


def main() -> None:
    """Write the tables of the loop fluids."""
    import numpy as np

    FOLDER.mkdir(exist_ok=True)
    for name in LOOP_FLUIDS:
        path = FOLDER / f"{name}.npz"
        np.savez_compressed(path, **build_property_table(RECORDS[name]))
        print(f"{path.name}: {path.stat().st_size / 1024:.0f} KiB")


if __name__ == "__main__":
    main()
