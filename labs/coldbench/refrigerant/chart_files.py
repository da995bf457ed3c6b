"""Chart lines that ship with the package, so that a chart opens without loading CoolProp.

`python -m coldbench.refrigerant.chart_files` computes them anew with `chart_data`, one file
`chart_tables/NAME.npz` per fluid: all lines behind one another, in single precision (1e-7, far
below the width of a printed line). A stamp ties each file to its own contents.

Sources: those of `chart_data`.
"""

import hashlib
import json
from functools import lru_cache
from importlib import resources
from pathlib import Path

from coldbench.errors import InputError
from coldbench.refrigerant.chart_data import ChartData, ChartLine, chart_data, chart_line
from coldbench.refrigerant.fluids import FLUIDS, Fluid, fluid

FOLDER = Path(__file__).parent / "chart_tables"
LAYOUT = 1
_FAMILIES = ("isotherms", "isobars", "quality_lines", "isentropes")


def stored_chart(name: str | Fluid) -> ChartData:
    """Return the lines of a fluid's charts from the shipped file (about 2 ms, then none).

    Parameters
    ----------
    name : str or Fluid
        Any listed refrigerant.

    Returns
    -------
    ChartData
        As `chart_data`, within 1e-6.

    Raises
    ------
    InputError
        If no fluid has that name, or its file is missing or damaged.

    Examples
    --------
    >>> data = stored_chart("R-134a")
    >>> len(data.quality_lines), round(float(data.dew.pressure_Pa[-1]) / 1e6, 3)
    (9, 4.059)
    """
    return _stored(fluid(name).name)


@lru_cache(maxsize=len(FLUIDS))
def _stored(name: str) -> ChartData:
    file = f"{name}.npz"
    path = resources.files("coldbench.refrigerant").joinpath("chart_tables", file)
    try:
        with path.open("rb") as stream:
            return read_chart(stream, file)
    except FileNotFoundError:
        raise InputError(f"no chart table {file}; run chart_files") from None


def read_chart(stream, file: str) -> ChartData:
    """Read and check one file of chart lines.

    Parameters
    ----------
    stream : binary file
        The `.npz` file.
    file : str
        Its name, for messages.

    Returns
    -------
    ChartData

    Raises
    ------
    InputError
        Naming the file and the reason.

    Examples
    --------
    >>> import io
    >>> read_chart(io.BytesIO(b"ice"), "R1.npz")
    Traceback (most recent call last):
    coldbench.errors.InputError: R1.npz: damaged chart table; run chart_files
    """
    import numpy as np

    try:
        with np.load(stream, allow_pickle=False) as held:
            stamp = json.loads(str(held["stamp"]))
            arrays = [held[key] for key in ("rows", "lengths", "values")]
    except Exception:  # a damaged zip fails in many ways
        raise InputError(f"{file}: damaged chart table; run chart_files") from None
    if stamp.get("layout") != LAYOUT or stamp.get("contents") != _contents(*arrays):
        raise InputError(f"{file}: chart table does not match its stamp; run chart_files")
    return _from_arrays(stamp, *arrays)


def _from_arrays(stamp: dict, rows, lengths, values) -> ChartData:
    lines = []
    at = 0
    for length, value in zip(lengths.tolist(), values.tolist(), strict=True):
        lines.append(chart_line(value, rows[at:at + length]))
        at += length
    families = {}
    at = 2
    for name in _FAMILIES:
        families[name] = tuple(lines[at:at + stamp[name]])
        at += stamp[name]
    return ChartData(stamp["fluid"], lines[0], lines[1], **families,
                     pressure_range_Pa=tuple(stamp["pressure_range_Pa"]),
                     temperature_range_K=tuple(stamp["temperature_range_K"]))


def _contents(*arrays) -> str:
    return hashlib.sha256(b"".join(a.tobytes() for a in arrays)).hexdigest()[:16]


def write_chart(data: ChartData, stream) -> None:
    """Write the lines of one fluid.

    Parameters
    ----------
    data : ChartData
        Lines as computed.
    stream : binary file or path
        Where to.

    Examples
    --------
    >>> import io
    >>> stream = io.BytesIO()
    >>> write_chart(stored_chart("R134a"), stream)
    >>> _ = stream.seek(0)
    >>> read_chart(stream, "R134a.npz").fluid
    'R134a'
    """
    import numpy as np

    lines: list[ChartLine] = [data.bubble, data.dew,
                              *(line for name in _FAMILIES for line in getattr(data, name))]
    rows = np.concatenate([np.stack([line.pressure_Pa, line.enthalpy_J_kg, line.temperature_K,
                                     line.entropy_J_kgK], axis=1) for line in lines])
    arrays = (rows.astype(np.float32), np.array([len(line.pressure_Pa) for line in lines]),
              np.array([line.value for line in lines]))
    stamp = {"fluid": data.fluid, "layout": LAYOUT, "contents": _contents(*arrays),
             "pressure_range_Pa": data.pressure_range_Pa,
             "temperature_range_K": data.temperature_range_K,
             **{name: len(getattr(data, name)) for name in _FAMILIES}}
    np.savez_compressed(stream, rows=arrays[0], lengths=arrays[1], values=arrays[2],
                        stamp=np.array(json.dumps(stamp)))


def main() -> None:
    """Compute and write the chart lines of all fluids."""
    FOLDER.mkdir(exist_ok=True)
    for name in FLUIDS:
        write_chart(chart_data(name), FOLDER / f"{name}.npz")
        print(f"{name}.npz {(FOLDER / f'{name}.npz').stat().st_size / 1e3:.0f} kB")


if __name__ == "__main__":
    main()
