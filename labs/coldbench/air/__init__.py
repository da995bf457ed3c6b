"""Air around the bench: the standard atmosphere and barometer readings."""

from coldbench.air.atmosphere import barometer_pressure, standard_atmosphere_pressure

__all__ = ["barometer_pressure", "standard_atmosphere_pressure"]
