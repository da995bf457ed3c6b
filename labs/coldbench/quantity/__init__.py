"""Quantities at the edge: reading, converting and writing values with units.

Inside the program every value is an SI float whose name carries its unit. The table of
units is data (`units.toml`); compound units outside it go through pint.
"""

from coldbench.quantity.convert import (
    format_quantity,
    from_si,
    normalise_unit,
    parse,
    to_si,
    units_of,
)
from coldbench.quantity.gauge import absolute_from_gauge, gauge_from_absolute
from coldbench.quantity.table import KINDS, Kind, Unit

__all__ = [
    "KINDS", "Kind", "Unit", "absolute_from_gauge", "format_quantity", "from_si",
    "gauge_from_absolute", "normalise_unit", "parse", "to_si", "units_of",
]
