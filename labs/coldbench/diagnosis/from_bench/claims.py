"""Cut sets that a learner claims, each tried at the bench."""

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from coldbench.bench import Bench, bench_faults
from coldbench.diagnosis.from_bench.complaint import Complaint, complaint_of
from coldbench.diagnosis.from_bench.table import shown_table
from coldbench.diagnosis.tree import Tree
from coldbench.diagnosis.tree.bdd import diagram_of
from coldbench.diagnosis.tree.cut_sets import CutSets
from coldbench.errors import InputError

MOST_CLAIMS = 200
CONFIRMED, REFUTED, NEEDLESS, UNSOLVED = "confirmed", "refuted", "not minimal", "not solved"


@dataclass(frozen=True)
class Verdict:
    """What the bench says about one claimed cut set.

    faults; verdict ["confirmed", "refuted", "not minimal" or "not solved"]; words [a sentence with
    the reading that says so].
    """

    faults: tuple[str, ...]
    verdict: str
    words: str


def claimed_cut_sets(tree: Tree) -> list[tuple[str, ...]]:
    """Return the minimal cut sets of a learner's tree, those of fewest events first.

    Parameters
    ----------
    tree : Tree
        Its events are fault ids of the bench, such as "K1:coil_open".

    Returns
    -------
    list of tuple of str

    Raises
    ------
    InputError
        If there are more than 200: such a tree is tried part by part.

    Examples
    --------
    >>> from coldbench.diagnosis.tree import tree_from
    >>> claimed_cut_sets(tree_from({"top": "warm", "gate": {"warm": {"kind": "or", "inputs":
    ...     ["undercharge", "CL:open"]}}, "event": {"undercharge": 0.1, "CL:open": 0.01}}))
    [('undercharge',), ('CL:open',)]
    """
    diagram, (root,) = diagram_of(tree)
    sets = CutSets(diagram, root)
    if sets.count > MOST_CLAIMS:
        raise InputError(f"the tree claims {sets.count} minimal cut sets; accepted: up to "
                         f"{MOST_CLAIMS}, so try it part by part")
    order = {name: n for n, name in enumerate(tree.used_events)}
    found = [tuple(sorted(one, key=order.get)) for one in sets]
    return sorted(found, key=lambda one: (len(one), [order[name] for name in one]))


def check_claims(bench: Bench, symptom: "str | Complaint", claims: Iterable[Sequence[str]],
                 workers: int | None = None, keep: bool = True) -> list[Verdict]:
    """Return what the bench says about claimed cut sets.

    Each set is simulated, and so is each set with one fault fewer: a set that shows the complaint
    without one of its faults is not minimal.

    Parameters
    ----------
    bench : Bench
        The bench.
    symptom : str or Complaint
        What the sets are claimed to cause.
    claims : iterable of sequence of str
        Fault ids of each set.
    workers : int, optional
        Processes.
    keep : bool
        Use the cache folder.

    Returns
    -------
    list of Verdict
        In the order of the claims.

    Raises
    ------
    InputError
        Naming a fault that the bench cannot have.

    Examples
    --------
    >>> from coldbench.bench import load_bench
    >>> [one.verdict for one in check_claims(load_bench("blue"), "no air from the vents",
    ...     [["MB:open"], ["undercharge"], ["MB:open", "undercharge"]], 1, False)]
    ['confirmed', 'refuted', 'not minimal']
    """
    complaint = symptom if isinstance(symptom, Complaint) else complaint_of(bench, symptom)
    claims = [tuple(one) for one in claims]
    for one in claims:
        try:
            bench_faults(bench, one)
        except InputError as error:
            raise InputError(f"claimed cut set {', '.join(one)}: {error}") from None
    smaller = [less for one in claims for less in _smaller(one)]
    table = shown_table(bench, [complaint.state], [*claims, *smaller], workers, keep)
    return [_verdict(complaint, table, one) for one in claims]


def _smaller(one: tuple[str, ...]) -> list[tuple[str, ...]]:
    return list(itertools.combinations(one, len(one) - 1))


def _verdict(complaint: Complaint, table, one: tuple[str, ...]) -> Verdict:
    named = " and ".join(one) or "no fault at all"
    if table.row(complaint.state, one) is None:
        return Verdict(one, UNSOLVED, f"{named}: the bench could not be solved with it.")
    shown = table.shown(complaint.state, one)
    told = complaint.told(shown)
    told = f" ({told})" if told else ""
    if not complaint.shows(shown):
        return Verdict(one, REFUTED, f"{named}: in “{complaint.state}” the bench does not show "
                                     f"“{complaint.name}”{told}.")
    for less in _smaller(one):
        row = table.row(complaint.state, less)
        if row is not None and complaint.shows(table.shown(complaint.state, less)):
            spare = next(name for name in one if name not in less)
            return Verdict(one, NEEDLESS, f"{named}: shows it, but so does "
                           f"{' and '.join(less) or 'the bench with no fault'} without {spare}"
                           f"{told}.")
    return Verdict(one, CONFIRMED, f"{named}: the bench shows it{told}.")
