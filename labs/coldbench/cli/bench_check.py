"""`coldbench bench check`: every mistake of a bench file, with file, key and reason."""

from typing import TYPE_CHECKING, Annotated

import typer

from coldbench.cli.say import say
from coldbench.errors import InputError

if TYPE_CHECKING:
    from coldbench.bench import Bench


def command(
    file: Annotated[str, typer.Argument(
        help="Bench file ending in .toml, or the name of a shipped bench.")],
) -> None:
    """Explain every mistake of a bench file; exit status 1 if there is one.

    A file without mistakes is tried in each of its operating states.
    """
    mistakes, lines = findings(file)
    say("\n".join([*mistakes, *lines]))
    if mistakes:
        raise typer.Exit(1)


def findings(file: str) -> tuple[tuple[str, ...], list[str]]:
    """Return the mistakes of a bench file, and what else there is to say.

    Parameters
    ----------
    file : str
        Path or shipped name.

    Returns
    -------
    tuple of (tuple of str, list of str)
        Mistakes; lines for a person.

    Examples
    --------
    >>> findings("quay")[0]
    ()
    """
    from coldbench.bench import load_bench
    from coldbench.bench.files import replaced_lists
    from coldbench.bench.trial import remarks, trial
    from coldbench.errors import Gather

    notes = [f"note: {text}" for text in replaced_lists(file)]
    try:
        bench = load_bench(file)
    except InputError as error:
        return error.mistakes, [*notes, "", _count(len(error.mistakes))]
    gather = Gather()
    healthy = trial(bench, gather)
    if gather.mistakes:
        return tuple(gather.mistakes), [*notes, "", _count(len(gather.mistakes))]
    notes += [f"note: {text}" for text in remarks(bench, healthy)]
    return (), [*notes, summary(bench)]


def _count(number: int) -> str:
    return f"{number} mistake{'s' if number != 1 else ''}."


def summary(bench: "Bench") -> str:
    """Return what a checked bench has, in one line.

    Parameters
    ----------
    bench : Bench
        Checked.

    Returns
    -------
    str

    Examples
    --------
    >>> from coldbench.bench import load_bench
    >>> summary(load_bench("blue"))[:47]
    'blue.toml: no mistakes. It has 62 parts, 126 wi'
    """
    from coldbench.bench import catalogue

    circuit = bench.circuit
    return (f"{bench.file}: no mistakes. It has {len(circuit.parts)} parts, "
            f"{len(circuit.wires)} wires, {len(circuit.test_points)} test points, "
            f"{len(bench.inputs.inputs)} sensor inputs, {len(bench.symptoms)} symptoms, "
            f"{len(catalogue(bench))} faults; solved in all {len(bench.states)} states.")
