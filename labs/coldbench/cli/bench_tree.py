"""`coldbench tree --bench`: a fault tree derived from a bench, and claims tried at it."""

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from coldbench.cli.say import say
from coldbench.errors import InputError

if TYPE_CHECKING:
    from coldbench.diagnosis.from_bench import BenchTree, Verdict

_NAMED = 12


def run(bench: str, symptom: str | None, as_json: bool, limit: int, draw: Path | None,
        claims: str | None, pairs: int | None) -> None:
    """Derive the tree of a symptom, try claims if there are any, and say what was found.

    Parameters
    ----------
    bench : str
        Name of a bench, or its file.
    symptom : str or None
        One of its symptoms.
    as_json : bool
        Write JSON.
    limit : int
        Cut sets to list.
    draw : Path or None
        Draw the tree there.
    claims : str or None
        A learner's tree; its events are fault ids.
    pairs : int or None
        Pairs to simulate.

    Raises
    ------
    InputError
        For a bench, symptom, file or fault that is none.
    """
    from coldbench.diagnosis.from_bench import check_claims, claimed_cut_sets, tree_from_bench
    from coldbench.diagnosis.from_bench.derive import PAIRS
    from coldbench.diagnosis.tree import analyse, read_tree

    loaded = with_symptom(bench, symptom)
    claimed = claimed_cut_sets(read_tree(claims)) if claims else []
    verdicts = check_claims(loaded, symptom, claimed)
    made = tree_from_bench(loaded, symptom, PAIRS if pairs is None else pairs)
    if draw is not None:
        from coldbench.panels import write_tree_diagram

        write_tree_diagram(made.tree, draw)
    found = analyse(made.tree, limit)
    if as_json:
        say(json.dumps(answer(made, found, verdicts), ensure_ascii=False))
        return
    say(text(made, found, verdicts))
    if draw is not None:
        say(f"\nDrawn: {draw}")


def with_symptom(bench: str, symptom: str | None):
    """Return the bench, having made sure that a symptom was named.

    Raises: InputError naming the symptoms that the bench has.
    """
    from coldbench.bench import load_bench

    loaded = load_bench(bench)
    if symptom is None:
        raise InputError(f"--symptom is missing; {loaded.name} has: "
                         f"{'; '.join(loaded.symptoms) or 'none'}")
    if sys.stderr.isatty():
        print("Every fault is tried at the bench; that takes a minute or two.", file=sys.stderr)
    return loaded


def missed(made: "BenchTree", verdicts: "list[Verdict]") -> list[tuple[str, ...]]:
    """Return the bench's cut sets that no claim covers [list of tuple of str]."""
    claimed = [set(one.faults) for one in verdicts if one.verdict == "confirmed"]
    sets = [*((one,) for one in made.singles), *made.doubles]
    return [one for one in sets if not any(claim <= set(one) for claim in claimed)]


def answer(made: "BenchTree", found, verdicts: "list[Verdict]") -> dict:
    """Return what was found as plain data [dict]."""
    from coldbench.cli.tree import answer as of_tree

    plain = {"bench": made.bench.name, "symptom": made.complaint.name,
             "state": made.complaint.state, **of_tree(found), "single_faults": made.faults,
             "pairs_tried": made.tried, "pairs_left": made.left, "unsolved": made.unsolved,
             "bound": made.bound}
    if verdicts:
        plain["claims"] = [{"cut_set": list(one.faults), "verdict": one.verdict,
                            "words": one.words} for one in verdicts]
        plain["not_claimed"] = [list(one) for one in missed(made, verdicts)]
    return plain


def text(made: "BenchTree", found, verdicts: "list[Verdict]") -> str:
    """Return what was found as text [str]."""
    from coldbench.cli.tree import text as of_tree

    from coldbench.bench import catalogue

    words = {one.id: one.description for one in catalogue(made.bench)}
    lines = [of_tree(found, words), "",
             f"{made.faults} single faults simulated in “{made.complaint.state}”: "
             f"{len(made.singles)} show it. {made.tried} pairs simulated: {len(made.doubles)} "
             f"show it together; {made.left} further pairs were not tried (--pairs).", made.bound]
    if made.unsolved:
        lines.append(f"{made.unsolved} cases could not be solved and are left out.")
    if verdicts:
        lines += ["", "Claims:", *(f"  {one.verdict}: {one.words}" for one in verdicts)]
        others = missed(made, verdicts)
        named = "; ".join(" + ".join(one) for one in others[:_NAMED])
        more = f"; and {len(others) - _NAMED} more" if len(others) > _NAMED else ""
        lines.append(f"Not claimed: {named}{more}." if others else "Nothing is missing.")
    return "\n".join(lines)
