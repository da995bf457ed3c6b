"""A learner's fault tree held against a whole bench: which of its claims does the bench bear out?"""

from collections.abc import Mapping
from typing import Any

from coldbench.bench import Bench
from coldbench.diagnosis.from_bench import check_claims, claimed_cut_sets
from coldbench.errors import InputError
from coldbench.worksheet.records import is_blank
from coldbench.worksheet.spelling import sentence
from coldbench.worksheet.tree_data import tree_of

SIGNS = {"confirmed": "✓", "refuted": "✗", "not minimal": "◐", "not solved": "?"}


def held_against(bench: Bench, symptom: str, tree: Any, faults: Mapping[str, str]) -> str:
    """Return what a bench says about each minimal cut set of a learner's tree, as lines of text.

    Parameters
    ----------
    bench : Bench
        The bench; each set is simulated at it.
    symptom : str
        Of the bench file.
    tree : list, dict or rows
        As a learner writes it; `...` for not yet.
    faults : mapping of str to str
        Name in the tree → fault of the bench; a name that is missing cannot fail there.

    Returns
    -------
    str
        Never raises for what stands in the tree: a sentence says what is wrong.

    Examples
    --------
    >>> from coldbench.bench import load_bench
    >>> print(held_against(load_bench("blue"), "no air from the vents",
    ...                    ["or", "blower dead", "fuse of the lamp"], {"blower dead": "MB:open"}))
    ✓ blower dead: confirmed (vent flow: 0 %, below 10 %)
    · fuse of the lamp: not at this bench
    """
    if is_blank(tree):
        return "The tree is not written yet."
    try:
        sets = claimed_cut_sets(tree_of(tree))
        there = [one for one in sets if all(name in faults for name in one)]
        claims = [[faults[name] for name in one] for one in there]
        verdicts = check_claims(bench, symptom, claims, workers=1, keep=False)
    except InputError as error:
        return f"✗ {sentence(str(error))}"
    said = {one: _line(one, verdict) for one, verdict in zip(there, verdicts, strict=True)}
    return "\n".join(said.get(one, f"· {' with '.join(one)}: not at this bench") for one in sets)


def _line(names: tuple[str, ...], verdict) -> str:
    why = verdict.words.rpartition("(")[2].rstrip(").") if "(" in verdict.words else ""
    return (f"{SIGNS[verdict.verdict]} {' with '.join(names)}: {verdict.verdict}"
            + (f" ({why})" if why else ""))
