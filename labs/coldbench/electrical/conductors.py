"""Resistance of a wire from its size and length.

Source: IEC 60228, class 5 flexible plain copper at 20 °C (data/conductors.toml).
"""

import tomllib
from functools import lru_cache
from importlib import resources

from coldbench.errors import InputError


@lru_cache
def conductor_table() -> dict[float, float]:
    """Resistance per length [ohm/m] of each listed cross-section [mm²].

    >>> round(1000.0 * conductor_table()[2.5], 9)
    7.98
    """
    text = resources.files(__package__).joinpath("data/conductors.toml").read_text("utf-8")
    return {float(size): ohm / 1000.0
            for size, ohm in tomllib.loads(text)["ohm_per_km"].items()}


def wire_resistance(size_mm2: float, length_m: float) -> float:
    """Resistance of a copper wire at 20 °C, without its joints.

    Parameters: size_mm2, a listed cross-section [mm²]; length_m [m], above 0.
    Returns: resistance [ohm] = (resistance per length) · length.
    Raises: InputError for a size that is not listed, or a length that is not positive.
    Source: IEC 60228, class 5.

    >>> round(wire_resistance(2.5, 1.2), 6)
    0.009576
    """
    table = conductor_table()
    if size_mm2 not in table:
        sizes = ", ".join(f"{size:g}" for size in table)
        raise InputError(f"wire size {size_mm2!r} mm² is not listed; sizes are {sizes} mm²")
    if not 0.0 < length_m < 1000.0:
        raise InputError(f"wire length {length_m!r} m is not between 0 and 1000 m")
    return table[size_mm2] * length_m
