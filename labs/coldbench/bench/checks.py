"""Checks across the tables of a bench file: names that must be found elsewhere, values that
must fit together. Each check names what it needs, so that it also runs beside other mistakes.
"""

from collections.abc import Iterator
from types import SimpleNamespace

from coldbench.bench.fault_text import bench_faults, wrong_calibration
from coldbench.bench.settings_check import settings_mistakes
from coldbench.bench.symptoms import symptom_mistakes
from coldbench.errors import Gather, InputError


def check_names(found: dict, file: str, gather: Gather) -> None:
    """Keep every name that is not found, and every pair of values that does not fit.

    Parameters
    ----------
    found : dict
        Fields of `Bench` that could be made.
    file : str
        For messages.
    gather : Gather
        Takes the mistakes.
    """
    bench = SimpleNamespace(file=file, **found)
    for needs, check in _CHECKS:
        if all(need in found for need in needs):
            gather.of(_told, check, bench)


def _told(check, bench) -> None:
    if mistakes := tuple(check(bench)):
        raise InputError(*mistakes)


def _motors(bench) -> Iterator[str]:
    yield from (_missing(bench, f"fan {n}: motor", fan.motor, "motor")
                for n, fan in enumerate(bench.fans, 1)
                if not _has(bench, fan.motor, "motor"))
    if not 0.5 <= sum(fan.share for fan in bench.fans) <= 1.0 + 1e-9:
        yield (f"{bench.file}: fan: the shares of all fans must add up to 1 at most, and 0.5 "
               "at least")


def _blower(bench) -> Iterator[str]:
    if not _has(bench, bench.blower.motor, "motor"):
        yield _missing(bench, "blower: motor", bench.blower.motor, "motor")


def _clutch(bench) -> Iterator[str]:
    if not _has(bench, bench.clutch.coil, "coil"):
        yield _missing(bench, "clutch: coil", bench.clutch.coil, "coil")
    if bench.clutch.release_A >= bench.clutch.engage_A:
        yield f"{bench.file}: clutch: release_A must be below engage_A"


def _has(bench, name: str, kind: str) -> bool:
    return name in bench.circuit.parts and bench.circuit.parts[name].kind == kind


def _missing(bench, where: str, name: str, kind: str) -> str:
    known = ", ".join(p.id for p in bench.circuit.parts.values() if p.kind == kind) or "none"
    return f"{bench.file}: {where}: the wiring has no {kind} {name!r}; it has {known}"


def _switch(bench) -> Iterator[str]:
    switch = bench.pressure_switch
    if switch and switch.close_Pa >= switch.open_Pa:
        yield f"{bench.file}: pressure_switch: close_kPa must be below open_kPa"


def _places(bench) -> Iterator[str]:
    places = [("head: supply", bench.head.supply), ("head: ground", bench.head.ground)]
    if bench.engine:
        places += [("engine: request", bench.engine.request),
                   ("engine: ground", bench.engine.ground)]
    for where, node in places:
        if node not in bench.circuit.nodes:
            yield f"{bench.file}: {where}: the wiring has no terminal or splice {node!r}"
    reference = bench.circuit.parts.get(bench.head.reference)
    if bench.head.reference != "-" and (reference is None or reference.kind != "reference"):
        yield (f"{bench.file}: head: reference: the wiring has no reference "
               f"{bench.head.reference!r}")


def _signals(bench) -> Iterator[str]:
    head, calibration = bench.head, bench.calibration
    fitted = [name for name in calibration.sensor_names if calibration.sensor(name).fitted]
    for key, table, wanted in (("signals", head.signals, fitted),
                               ("doors", head.doors, calibration.door_names)):
        where = f"{bench.file}: head: {key}"
        yield from (f"{where}: lacks {name!r}" for name in wanted if name not in table)
        yield from (f"{where}: the calibration has no {name!r}; it has {', '.join(wanted)}"
                    for name in table if name not in wanted)
        yield from (f"{where}: {name}: no input {source!r}; inputs are "
                    f"{', '.join(bench.inputs.inputs)}, or \"bus\""
                    for name, source in table.items()
                    if name in wanted and source != "bus" and source not in bench.inputs.inputs)


def _states(bench) -> Iterator[str]:
    for name, settings in bench.states.items():
        yield from settings_mistakes(bench, settings, f"{bench.file}: state.{name}")


def _faults(bench) -> Iterator[str]:
    """Faults by hand: on parts that are there, doing something, each name once."""
    ids = [one.id for one in bench.faults]
    for number, one in enumerate(bench.faults, 1):
        where = f"{bench.file}: fault {one.id}"
        if ids.index(one.id) != number - 1:
            yield f"{where}: id: {one.id!r} is used twice"
        elif not one.faults and not one.calibration:
            yield f"{where}: does nothing: give faults or calibration"
        elif own := [text for text in one.faults if text in ids]:
            yield f"{where}: faults: {own[0]!r} is itself a fault written by hand"
        else:
            yield from _fault(bench, one, where)


def _fault(bench, one, where: str) -> Iterator[str]:
    plain = SimpleNamespace(**{**vars(bench), "faults": ()})
    told = [f"{text}: {mistake}" for text in one.faults
            for mistake in _mistakes(bench_faults, plain, [text])]
    told = told or _mistakes(bench_faults, plain, one.faults)
    yield from (f"{where}: faults: {mistake}" for mistake in told)
    if one.calibration:
        yield from _mistakes(wrong_calibration, bench, one)


def _mistakes(call, *values) -> list[str]:
    gather = Gather()
    gather.of(call, *values)
    return gather.mistakes


_CHECKS = (
    (("circuit", "fans"), _motors),
    (("circuit", "blower"), _blower),
    (("circuit", "clutch"), _clutch),
    (("pressure_switch",), _switch),
    (("circuit", "head", "engine"), _places),
    (("head", "calibration", "inputs"), _signals),
    (("states", "circuit", "calibration", "requests"), _states),
    (("symptoms", "states", "circuit", "calibration"), symptom_mistakes),
    (("name", "faults", "circuit", "calibration", "calibration_tables"), _faults),
)
"""Fields of `Bench` that a check needs, and the check."""
