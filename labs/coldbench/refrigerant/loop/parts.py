"""The parts of a loop and their sizes, read from a TOML file and checked on load."""

import tomllib
from dataclasses import dataclass, fields
from functools import lru_cache
from importlib import resources

from coldbench.errors import InputError, toml_trouble
from coldbench.refrigerant.loop.conditions import LOOP_FLUIDS


@dataclass(frozen=True)
class CompressorParts:
    """Displacement, efficiencies, shell loss, discharge line (units in the names)."""

    displacement_m3: float
    volumetric_efficiency: float
    clearance_share: float
    expansion_exponent: float
    speed_loss_per_rpm: float
    best_isentropic_efficiency: float
    least_isentropic_efficiency: float
    best_pressure_ratio: float
    pressure_ratio_width: float
    shell_loss_W_per_K: float
    discharge_volume_m3: float
    discharge_drop_Pa: float


@dataclass(frozen=True)
class CondenserParts:
    """Face, heat transfer, volumes of condenser and receiver."""

    airflow_kg_per_s: float
    air_transfer_W_per_K: float
    airflow_exponent: float
    condensing_transfer_W_per_K: float
    vapour_transfer_W_per_K: float
    liquid_transfer_W_per_K: float
    subcool_share: float
    volume_m3: float
    receiver_volume_m3: float
    air_penalty: float


@dataclass(frozen=True)
class LiquidLineParts:
    """Liquid line with the hand valve and its bleed hole."""

    volume_m3: float
    valve_bore_m: float
    bleed_bore_m: float
    line_bore_m: float
    discharge_coefficient: float


@dataclass(frozen=True)
class ExpansionValveParts:
    """Thermostatic expansion valve: bulb, spring, opening, maximum operating pressure."""

    full_area_m2: float
    seat_leak_share: float
    discharge_coefficient: float
    spring_K: float
    opening_span_K: float
    most_operating_pressure_Pa: float
    spring_reference_K: float


@dataclass(frozen=True)
class EvaporatorParts:
    """Coil, blower airflow, heat transfer, volume."""

    airflow_m3_per_s: float
    least_airflow_share: float
    air_transfer_units: float
    airflow_exponent: float
    boiling_transfer_W_per_K: float
    vapour_transfer_W_per_K: float
    volume_m3: float
    drop_Pa: float


@dataclass(frozen=True)
class SuctionLineParts:
    """Suction line from the coil to the compressor."""

    volume_m3: float
    drop_Pa: float
    heat_gain_W_per_K: float


@dataclass(frozen=True)
class Limits:
    """Reference flow of the transfer laws, and the pressure limits of the bench."""

    reference_flow_kg_per_s: float
    high_pressure_trip_gauge_Pa: float
    low_pressure_limit_gauge_Pa: float


@dataclass(frozen=True)
class LoopParts:
    """All parts of a loop; get the blue bench's from `blue_parts()`."""

    charge_kg: tuple[tuple[str, float], ...]
    compressor: CompressorParts
    condenser: CondenserParts
    liquid_line: LiquidLineParts
    expansion_valve: ExpansionValveParts
    evaporator: EvaporatorParts
    suction_line: SuctionLineParts
    limits: Limits

    def right_charge_kg(self, fluid: str) -> float:
        """Return the right charge of a refrigerant.

        Parameters
        ----------
        fluid : str
            Short name.

        Returns
        -------
        float
            Mass [kg].

        Examples
        --------
        >>> blue_parts().right_charge_kg("R134a") > blue_parts().right_charge_kg("R152a")
        True
        """
        return dict(self.charge_kg)[fluid]


_TABLES = {
    "compressor": CompressorParts, "condenser": CondenserParts, "liquid_line": LiquidLineParts,
    "expansion_valve": ExpansionValveParts, "evaporator": EvaporatorParts,
    "suction_line": SuctionLineParts, "limits": Limits,
}


def load_parts(text: str, file: str = "blue.toml") -> LoopParts:
    """Read and check the parts of a loop.

    Parameters
    ----------
    text : str
        TOML text in the form of the shipped `blue.toml`.
    file : str
        Name for messages.

    Returns
    -------
    LoopParts

    Raises
    ------
    InputError
        Naming file, key and reason.

    Examples
    --------
    >>> load_parts("[charge_kg]")
    Traceback (most recent call last):
    coldbench.errors.InputError: blue.toml: lacks the table [compressor]
    """
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{file}: {toml_trouble(error, text)}") from None
    for name in (*_TABLES, "charge_kg"):
        if not isinstance(tables.get(name), dict):
            raise InputError(f"{file}: lacks the table [{name}]")
    if unknown := set(tables) - set(_TABLES) - {"charge_kg"}:
        raise InputError(f"{file}: unknown table [{min(unknown)}]")
    charge = _numbers(tables["charge_kg"], LOOP_FLUIDS, f"{file}: charge_kg")
    parts = {name: kind(**_numbers(tables[name], [f.name for f in fields(kind)],
                                   f"{file}: {name}"))
             for name, kind in _TABLES.items()}
    return LoopParts(charge_kg=tuple(charge.items()), **parts)


def _numbers(table: dict, keys, where: str) -> dict[str, float]:
    for key in keys:
        if key not in table:
            raise InputError(f"{where}: lacks {key!r}")
    for key, value in table.items():
        if key not in keys:
            raise InputError(f"{where}: unknown key {key!r}; accepted: {', '.join(keys)}")
        if type(value) not in (int, float) or not 0.0 < value < float("inf"):
            raise InputError(f"{where}: {key} must be a number above 0, not {value!r}")
        if key.endswith(("_share", "_efficiency")) and value > 1.0:
            raise InputError(f"{where}: {key} must be at most 1, not {value!r}")
    return {key: float(table[key]) for key in keys}


@lru_cache(maxsize=1)
def blue_parts() -> LoopParts:
    """Return the parts of the blue bench's loop.

    Returns
    -------
    LoopParts
        The same object each time.

    Examples
    --------
    >>> round(blue_parts().compressor.displacement_m3 * 1e6)
    110
    """
    path = resources.files("coldbench.refrigerant.loop").joinpath("data", "blue.toml")
    return load_parts(path.read_text(encoding="utf-8"))
