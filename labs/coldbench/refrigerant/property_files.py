"""Loads and checks the shipped property tables (see `build_property_tables`)."""

import json
from importlib import resources
from typing import NamedTuple

from coldbench.errors import InputError
from coldbench.refrigerant.build_property_tables import PROPERTIES, contents
from coldbench.refrigerant.fingerprint import fingerprint
from coldbench.refrigerant.hermite_grid import Region


class PropertyTables(NamedTuple):
    """Both regions on one axis of ln p: position = (ln p − start) / step."""

    vapour: Region
    liquid: Region
    start: float
    step: float
    equation_highest_temperature_K: float
    stamp: dict


def load_property_tables(name: str) -> PropertyTables:
    """Load the shipped tables of one fluid.

    Parameters
    ----------
    name : str
        Short name, for example "R134a".

    Returns
    -------
    PropertyTables

    Raises
    ------
    InputError
        If the file is missing, damaged or does not match its fingerprint.

    Examples
    --------
    >>> load_property_tables("R134a").stamp["fluid"]
    'R134a'
    """
    folder = resources.files("coldbench.refrigerant").joinpath("property_tables")
    file = f"{name}.npz"
    try:
        with folder.joinpath(file).open("rb") as stream:
            return read_property_tables(stream, file)
    except FileNotFoundError:
        raise InputError(f"no property table {file}; run build_tables") from None


def read_property_tables(stream, file: str) -> PropertyTables:
    """Read and check one file of property tables.

    Parameters
    ----------
    stream : binary file
        The `.npz` file.
    file : str
        Its name, for messages.

    Returns
    -------
    PropertyTables

    Raises
    ------
    InputError
        Naming the file and the reason.

    Examples
    --------
    >>> import io
    >>> read_property_tables(io.BytesIO(b"ice"), "R1.npz")
    Traceback (most recent call last):
    coldbench.errors.InputError: R1.npz: damaged property table; run build_tables
    """
    import zipfile

    import numpy as np

    try:
        with np.load(stream, allow_pickle=False) as arrays:
            stamp = json.loads(str(arrays["stamp"]))
            tables = {phase: arrays[phase] for phase in PROPERTIES}
        written, hashed = stamp["fingerprint"], stamp["contents"]
        far = {phase: float(stamp["far_temperatures_K"][phase]) for phase in PROPERTIES}
        numbers = [float(stamp[key]) for key in ("start", "step", "equation_highest_temperature_K")]
    except (ValueError, KeyError, TypeError, EOFError, OSError, zipfile.BadZipFile):
        raise InputError(f"{file}: damaged property table; run build_tables") from None
    if written != fingerprint(stamp) or hashed != contents(tables):
        raise InputError(f"{file}: contents do not match the fingerprint; run build_tables")
    regions = {phase: _region(phase, tables[phase], far[phase], file) for phase in PROPERTIES}
    return PropertyTables(regions["vapour"], regions["liquid"], *numbers, stamp)


def _region(phase: str, table, far_K: float, file: str) -> Region:
    """One region, its properties finite and rising or falling all along w."""
    import numpy as np

    names = PROPERTIES[phase]
    if table.ndim != 4 or table.shape[0] != len(names) or table.shape[3] != 4:
        raise InputError(f"{file}: {phase} has the wrong shape; run build_tables")
    rises = np.diff(table[..., 0], axis=2)
    if not np.isfinite(table).all() or (np.sign(rises) != np.sign(rises[:, :1, :1])).any():
        raise InputError(f"{file}: {phase} does not rise or fall steadily; run build_tables")
    # Python floats: plain arithmetic on single numbers is faster than numpy
    rows = table.astype(float).tolist()
    return Region(far_K, table.shape[2] - 1, dict(zip(names, rows)))
