"""`coldbench bench faults`: every single fault that a bench can have."""

import json
from typing import TYPE_CHECKING, Annotated

import typer

from coldbench.cli.say import say

if TYPE_CHECKING:
    from coldbench.bench import Bench


def command(
    name: Annotated[str, typer.Argument(help="A shipped bench, or a file ending in .toml.")],
    as_json: Annotated[bool, typer.Option("--json", help="Write JSON.")] = False,
) -> None:
    """List the faults of a bench: number for the learner, the rest for the instructor."""
    from coldbench.bench import load_bench

    bench = load_bench(name)
    say(json.dumps(answer(bench), ensure_ascii=False) if as_json else text(bench))


def answer(bench: "Bench") -> list[dict]:
    """Return the catalogue as plain data, with the keys the command promises.

    Parameters
    ----------
    bench : Bench
        From `load_bench`.

    Returns
    -------
    list of dict
        id, number, family, part, mode, severity (0 to 1), description.

    Examples
    --------
    >>> from coldbench.bench import load_bench
    >>> list(answer(load_bench("blue"))[0])
    ['id', 'number', 'family', 'part', 'mode', 'severity', 'description']
    """
    from coldbench.bench import catalogue

    keys = ("id", "number", "family", "part", "mode", "severity", "description")
    return [{key: getattr(one, key) for key in keys} for one in catalogue(bench)]


def text(bench: "Bench") -> str:
    """Return the catalogue for people, family by family.

    Parameters
    ----------
    bench : Bench
        From `load_bench`.

    Returns
    -------
    str

    Examples
    --------
    >>> from coldbench.bench import load_bench
    >>> text(load_bench("blue")).splitlines()[2].startswith("refrigerant (")
    True
    """
    from coldbench.bench import catalogue

    found, families = catalogue(bench), {}
    for one in found:
        families.setdefault(one.family, []).append(one)
    lines = [(f"{bench.name}: {len(found)} faults. The number tells a learner nothing; "
             "--fault takes it or the id.")]
    for family, faults in families.items():
        lines += ["", f"{family} ({len(faults)})"]
        for one in faults:
            lines += [f"  {one.number}  {one.id}  (severity {one.severity:g})",
                      f"        {one.description}", f"        proven: {one.proven_at}"]
    return "\n".join(lines)
