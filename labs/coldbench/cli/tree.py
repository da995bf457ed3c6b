"""`coldbench tree`: minimal cut sets, probability and importance of a fault tree."""

import json
import math
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from coldbench.cli.say import say
from coldbench.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from coldbench.diagnosis.tree import Analysis

MOST_PAIRS = 100_000
_LISTED = 20  # cut sets in the text; all those found go into the JSON


def command(
    file: Annotated[str | None, typer.Argument(
        help="Tree: .toml, .json, Open-PSA .xml, or the name of an example.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Write JSON.")] = False,
    limit: Annotated[int, typer.Option(
        help="Minimal cut sets to list, those of fewest events first.")] = 1000,
    rows: Annotated[bool, typer.Option(
        "--rows", help="Show how the cut sets grow, row by row.")] = False,
    draw: Annotated[Path | None, typer.Option(
        help="Draw the tree into a file: .svg, .pdf or .png.")] = None,
    bench: Annotated[str | None, typer.Option(
        help="Derive the tree from this bench instead: a name, or its file.")] = None,
    symptom: Annotated[str | None, typer.Option(help="The bench's symptom to explain.")] = None,
    claims: Annotated[str | None, typer.Option(
        help="A tree with fault ids as events: try its cut sets at the bench.")] = None,
    pairs: Annotated[int | None, typer.Option(
        help="Pairs of faults to simulate; 0: single faults only.")] = None,
) -> None:
    """Analyse a fault tree: minimal cut sets, probability, importance."""
    from coldbench.diagnosis.tree import analyse, mocus, read_tree

    if not 1 <= limit <= 1_000_000:
        raise InputError(f"--limit {limit}: accepted: 1 to 1000000")
    if (file is None) == (bench is None):
        raise InputError("name a tree's file, or a bench with --bench, and not both")
    if bench is not None:
        if rows:
            raise InputError("--rows goes with a tree's file, not with --bench")
        from coldbench.cli import bench_tree

        if pairs is not None and not 0 <= pairs <= MOST_PAIRS:
            raise InputError(f"--pairs {pairs}: accepted: 0 to {MOST_PAIRS}")
        bench_tree.run(bench, symptom, as_json, limit, draw, claims, pairs)
        return
    if symptom or claims or pairs is not None:
        raise InputError("--symptom, --claims and --pairs go with --bench")
    tree = read_tree(file)
    if draw is not None:
        from coldbench.panels import write_tree_diagram

        write_tree_diagram(tree, draw)
    if rows:
        say(json.dumps({"steps": mocus(tree)}, ensure_ascii=False) if as_json else rows_text(tree))
        return
    found = analyse(tree, limit)
    say(json.dumps(answer(found), ensure_ascii=False) if as_json else text(found))
    if draw is not None and not as_json:
        say(f"\nDrawn: {draw}")


def answer(found: "Analysis") -> dict:
    """Return an analysis as plain data, with the keys the command promises.

    Parameters
    ----------
    found : Analysis
        Result.

    Returns
    -------
    dict
        Probabilities [-], None when an event has none; rrw None where it is infinite.

    Examples
    --------
    >>> from coldbench.diagnosis.tree import analyse, read_tree
    >>> answer(analyse(read_tree("pressure-tank")))["minimal_cut_set_count"]
    5
    """
    from coldbench.diagnosis.tree import DEFINITIONS

    importance = {name: {measure: value if math.isfinite(value) else None
                         for measure, value in vars(one).items()}
                  for name, one in found.importance.items()}
    return {"top_probability": found.top_probability, "rare_event_bound": found.rare_event_bound,
            "minimal_cut_set_count": found.minimal_cut_set_count,
            "minimal_cut_sets": [list(one) for one in found.minimal_cut_sets],
            "importance": importance, "definitions": DEFINITIONS}


def text(found: "Analysis", words: "Mapping[str, str] | None" = None) -> str:
    """Return an analysis as text to read.

    Parameters
    ----------
    found : Analysis
        Result.
    words : dict of str to str, optional
        What an event is, said behind the cut set that it alone makes.

    Returns
    -------
    str

    Examples
    --------
    >>> from coldbench.diagnosis.tree import analyse, read_tree
    >>> print(text(analyse(read_tree("pressure-tank"))).splitlines()[1])
    Probability of “tank ruptures”: 3.501e-05 (sum over cut sets, never below it: 3.501e-05)
    """
    lines = [found.tree.title or found.tree.top]
    if found.top_probability is None:
        lines.append("Probability: not known, since an event has none.")
    else:
        lines.append(f"Probability of “{found.tree.top}”: {found.top_probability:.4g} (sum over "
                     f"cut sets, never below it: {found.rare_event_bound:.4g})")
    lines += ["", f"Minimal cut sets: {found.minimal_cut_set_count}"]
    lines += ["  " + (f"{one[0]}: {words[one[0]]}" if words and len(one) == 1
                      else " + ".join(one)) for one in found.minimal_cut_sets[:_LISTED]]
    if found.minimal_cut_set_count > _LISTED:
        lines.append(f"  … {found.minimal_cut_set_count - _LISTED} more (--json lists them)")
    return "\n".join(lines + (_importance_lines(found) if found.importance else []))


def _importance_lines(found: "Analysis") -> list[str]:
    from coldbench.diagnosis.tree import DEFINITIONS

    width = max(len("event"), *map(len, found.importance))
    ranked = sorted(found.importance.items(), key=lambda item: -item[1].criticality)
    heads = ("Birnbaum", "criticality", "Fussell-Vesely", "RAW", "RRW")
    lines = ["", "  ".join([f"{'event':<{width}}", *(f"{head:>14}" for head in heads)])]
    lines += ["  ".join([f"{name:<{width}}", *(f"{value:>14.6g}" for value in vars(one).values())])
              for name, one in ranked]
    named = zip(heads, DEFINITIONS.values(), strict=True)
    return [*lines, "", *(f"{head}: {words}" for head, words in named)]


def rows_text(tree: object) -> str:
    """Return the growing table of cut sets as text.

    Parameters
    ----------
    tree : Tree
        Tree.

    Returns
    -------
    str

    Examples
    --------
    >>> from coldbench.diagnosis.tree import read_tree
    >>> print(rows_text(read_tree("pressure-tank")).splitlines()[0])
    Step 0
    """
    from coldbench.diagnosis.tree import mocus

    lines = []
    for step, table in enumerate(mocus(tree)):
        lines += [f"Step {step}", *("  " + " · ".join(row) for row in table)]
    return "\n".join(lines)
