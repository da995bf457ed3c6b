"""`coldbench bench show`: what a bench has, in words, or drawn to print."""

from typing import TYPE_CHECKING, Annotated

import typer

from coldbench.cli.say import say

if TYPE_CHECKING:
    from coldbench.bench import Bench


def command(
    name: Annotated[str, typer.Argument(
        help="Name of a shipped bench, or a bench file ending in .toml.")],
    draw: Annotated[str | None, typer.Option(
        help="Write refrigerant side and wiring to this file, .svg, or .pdf in pages to "
             "print.")] = None,
) -> None:
    """Show what a bench has; with --draw, draw its refrigerant side and its wiring."""
    from coldbench.bench import load_bench

    bench = load_bench(name)
    if draw:
        from coldbench.panels.bench_drawing import write_bench

        say(f"Wrote {write_bench(bench, draw)}")
        return
    say(bench_text(bench))


def bench_text(bench: "Bench") -> str:
    """Return what a bench has, for people.

    Parameters
    ----------
    bench : Bench
        Loaded.

    Returns
    -------
    str

    Examples
    --------
    >>> from coldbench.bench import load_bench
    >>> bench_text(load_bench("quay")).splitlines()[0]
    'Quay bench (quay)'
    """
    from coldbench.bench.symptoms import reading_units
    from coldbench.bench.tables import INSTRUMENTS
    from coldbench.panels.bench_drawing import bench_lines

    parts = [f"  {part.id:<6} {part.label or part.definition.words}"
             for part in bench.circuit.parts.values()]
    points = [f"  {number:<6} {point.label or point.at}"
              for number, point in bench.circuit.test_points.items()]
    symptoms = [f"  {symptom} (state {one.state})" for symptom, one in bench.symptoms.items()]
    readings = [f"  {key} ({unit})" if unit else f"  {key}"
                for key, unit in reading_units(bench).items() if not key.startswith(("tp", "code"))]
    return "\n".join([
        f"{bench.title} ({bench.name})", bench.about, "", *bench_lines(bench), "",
        "Parts of the wiring", *parts, "", "Test points", *points, "",
        "Symptoms", *(symptoms or ["  none"]), "",
        "Readings, by the names that symptoms use", *readings, "",
        "Instruments: " + ", ".join(i for i in INSTRUMENTS
                                    if i not in bench.instruments.leave_out
                                    and (i != "sight glass" or bench.instruments.sight_glass))])
