"""`coldbench bench read`: what every instrument of a bench shows, with or without faults."""

import json
import tomllib
from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated

import typer

from coldbench.cli.say import say
from coldbench.errors import InputError

if TYPE_CHECKING:
    from coldbench.bench import BenchReading, BenchRun

_DIGITS = 6


def command(
    name: Annotated[str, typer.Argument(help="A shipped bench, or a file ending in .toml.")],
    state: Annotated[str | None, typer.Option(
        help="Operating state; the bench's first if left out.")] = None,
    fault: Annotated[list[str] | None, typer.Option(
        help='Fault, for example "F1:blown", "condenser-blocked=0.6" or its number; may be given '
             "several times.")] = None,
    set_: Annotated[list[str] | None, typer.Option(
        "--set", help='Changed setting, for example "ambient_degC=38"; may be given several '
                      "times.")] = None,
    seconds: Annotated[float | None, typer.Option(
        help="Start from rest and follow the bench for so many seconds, up to 3600.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Write JSON.")] = False,
) -> None:
    """Show gauges, temperatures, volts, currents, and the head's reasons and codes."""
    from coldbench.bench import load_bench, read, simulate
    from coldbench.cli.bench_read_text import reading_text, run_text

    bench, faults, changes = load_bench(name), fault or [], settings_of(set_ or [])
    if seconds is not None:
        run = simulate(bench, state, faults, seconds, changes)
        say(json.dumps(run_answer(run), ensure_ascii=False) if as_json else run_text(run))
        return
    found = read(bench, state, faults, changes)
    say(json.dumps(answer(found), ensure_ascii=False) if as_json else reading_text(found))


def settings_of(texts: list[str]) -> dict:
    """Return settings from texts "key=value", values written as in a bench file.

    Parameters
    ----------
    texts : list of str
        Of the option --set.

    Returns
    -------
    dict

    Raises
    ------
    InputError
        If a text has no "=", or a key comes twice.

    Examples
    --------
    >>> settings_of(["ambient_degC=38", "blower=auto", "set_points_degC=[18, 20]", "ac=false"])
    {'ambient_degC': 38, 'blower': 'auto', 'set_points_degC': [18, 20], 'ac': False}
    """
    found = {}
    for text in texts:
        key, equals, written = (part.strip() for part in text.partition("="))
        if not equals or not key or key in found:
            raise InputError(f"--set {text!r}: write it like ambient_degC=38, each key once")
        found[key] = _value(written)
    return found


def _value(written: str):
    """A TOML value; anything else is a word."""
    try:
        return tomllib.loads(f"value = {written}")["value"]
    except (tomllib.TOMLDecodeError, RecursionError):
        return written


def answer(found: "BenchReading") -> dict:
    """Return a reading as plain data, with the keys the command promises.

    Parameters
    ----------
    found : BenchReading
        From `read`.

    Returns
    -------
    dict
        bench, state, faults; values {key: {value, unit, uncertainty, label}}; reasons [{topic,
        words}]; codes [{number, status, text}]; cycling; cycle (None at rest) with times [s] and
        ranges [lowest, highest] reached while cycling.

    Examples
    --------
    >>> from coldbench.bench import load_bench, read
    >>> plain = answer(read(load_bench("blue"), "off"))
    >>> plain["values"]["gauge high"]["unit"], plain["cycle"]
    ('kPa', None)
    """
    values = {key: {"value": round(one.value, _DIGITS) + 0.0, "unit": one.unit,
                    "uncertainty": round(one.uncertainty, _DIGITS), "label": one.label}
              for key, one in found.values.items()}
    reasons = [{"topic": one.topic, "words": one.words} for one in found.reasons]
    return {"bench": found.bench.name, "state": found.state, "faults": list(found.faults),
            "values": values, "reasons": reasons, "codes": codes(found),
            "cycling": found.cycling, "cycle_words": list(found.cycle_words),
            "cycle": asdict(found.cycle) if found.cycle else None}


def codes(found: "BenchReading") -> list[dict]:
    """Return the stored codes with their meaning [list of dict: number, status, text]."""
    meaning = {one.number: one.text for one in found.bench.calibration.codes}
    return [{"number": number, "status": status, "text": meaning[number]}
            for number, status in found.codes]


def run_answer(run: "BenchRun") -> dict:
    """Return a run as plain data.

    Parameters
    ----------
    run : BenchRun
        From `simulate`.

    Returns
    -------
    dict
        bench, faults; samples, one every half second; events [{time_s, topic, words}];
        mass_residual [share], power_residual_W.

    Examples
    --------
    >>> from coldbench.bench import load_bench, simulate
    >>> len(run_answer(simulate(load_bench("blue"), "off", seconds=1.0))["samples"])
    3
    """
    samples = [{"time_s": one.time_s,
                "high_side_gauge_kPa": round(one.loop.high_side_gauge_kPa, 3),
                "low_side_gauge_kPa": round(one.loop.low_side_gauge_kPa, 3),
                "clutch": one.engaged, "fan": one.fan, "blower": round(one.blower, 4),
                "doors": {name: round(at, 4) for name, at in one.doors.items()},
                "vents_degC": {zone: round(kelvin - 273.15, 3)
                               for zone, kelvin in one.vents_K.items()}}
               for one in run.samples]
    return {"bench": run.bench.name, "faults": list(run.faults), "samples": samples,
            "events": [one._asdict() for one in run.events],
            "mass_residual": run.mass_residual, "power_residual_W": run.power_residual}
