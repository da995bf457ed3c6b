"""Whether the settings of an operating state fit the head and the wiring of a bench."""

from collections.abc import Iterator


def settings_mistakes(bench, settings, where: str) -> Iterator[str]:
    """Yield what does not fit head or wiring in the settings of a state.

    Parameters
    ----------
    bench : Bench
        Or what has its calibration, circuit and requests.
    settings : Settings
        To be checked.
    where : str
        For messages.

    Yields
    ------
    str
    """
    zones, limits = bench.calibration.zone_names, bench.calibration.set_point
    if len(settings.set_points_K) != len(zones):
        yield (f"{where}: set_points_degC has {len(settings.set_points_K)} values, but the head "
               f"has {len(zones)} zones: {', '.join(zones)}")
    for value in settings.set_points_K:
        if not limits.lowest_K <= value <= limits.highest_K:
            yield (f"{where}: set_points_degC {value - 273.15:g} is outside "
                   f"{limits.lowest_K - 273.15:g} to {limits.highest_K - 273.15:g}")
    free = [name for name, kind in bench.circuit.inputs.items() if kind == "switch"
            and name not in bench.requests and name not in ("ignition", "running")]
    for name in settings.switches:
        if name not in free:
            yield (f"{where}: switches: {name!r} is no switch of the wiring that is free to set; "
                   f"those are {', '.join(free) or 'none'}")
