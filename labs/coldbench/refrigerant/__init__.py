"""Refrigerants: names, safety classes, saturation, and what gauge readings say.

`fluid("R134a")` gives a fluid; its saturation comes from shipped tables, so CoolProp does
not load at run time.
"""

from coldbench.refrigerant.fluids import FLUIDS, Fluid, fluid
from coldbench.refrigerant.readings import (
    Match,
    identify,
    partial_pressure_of_air,
    subcooling,
    superheat,
)

__all__ = [
    "FLUIDS", "Fluid", "Match", "fluid", "identify", "partial_pressure_of_air", "subcooling",
    "superheat",
]
