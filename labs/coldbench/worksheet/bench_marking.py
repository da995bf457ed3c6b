"""Marking a diagnosis at a sealed bench by the way that led to it; for hidden check cells.

    job = bench_job(sheet, bench, case.bench_1_number)
    sheet.mark("bench 1", key=job.right, journal=sheet.given("measurements"), scored=job.scored)
    sheet.mark("measurements", key=job.wanted(), expected=bench.expected)

Every reading of the journal is worked out again on the same sealed bench; one that it could not
have given proves nothing and costs the marks of the path. What is wrong with the bench, and which
tests tell its suspects apart, comes from the desk's keys (`bench_keys.py`).
"""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any, NamedTuple

from coldbench.bench import Taken
from coldbench.diagnosis.from_bench import BenchProblem
from coldbench.diagnosis.journal import (
    SHARES, PathMarks, PathScore, PathStep, agreeing_suspects, mark_path, proof_of, read_step,
    score_path)
from coldbench.diagnosis.journal.proof import left_by
from coldbench.diagnosis.journal.score import AFTER, DEAR
from coldbench.errors import ConvergenceError, InputError
from coldbench.worksheet.bench_keys import desk_keys
from coldbench.worksheet.bench_session import BenchSession, placed
from coldbench.worksheet.entries import Entry
from coldbench.worksheet.kinds.diagnosis import GUESSED, IMPOSSIBLE, OTHER_MODE, Judged
from coldbench.worksheet.kinds.journal import Wanted, sift
from coldbench.worksheet.marks import Mistake
from coldbench.worksheet.spelling import fold

EARLY_NAME = "a part replaced before the cause was proven"
REFUSED_NAME = "a step that is not safe"
WASTED_NAME = "readings that could teach nothing"
DEAR_NAME = "a long way round"
VERIFIED, REPAIRED, CONFIRMED = "complaint verified", "right part put right", "repair confirmed"
NOT_VERIFIED, NOT_CONFIRMED = "complaint never seen", "repair not confirmed"
LEAST_PATH = 0.999


class Use(NamedTuple):
    """One use of an instrument in a journal: its entries' numbers, what it gave, is it possible."""

    numbers: tuple[int, ...]
    taken: Taken
    possible: bool


def uses_of(bench: BenchSession, entries: Iterable[Entry]) -> list[Use]:
    """Return the uses of instruments that a journal holds of one bench, worked out again.

    bench; entries [untrusted]. An entry that names what the bench does not have is left out: it
    says nothing, and the journal's own mark names it.
    """
    found: list[Use] = []
    group: list[Entry] = []
    for entry in [*(one for one in entries if one.bench == bench.name), None]:
        if group and (entry is None or not _same_use(group, entry)):
            found += _use(bench, group)
            group = []
        if entry is not None:
            group.append(entry)
    return found


def _same_use(group: list[Entry], entry: Entry) -> bool:
    """Say whether an entry is another reading of the use that a group of entries is."""
    last = group[-1]
    alike = (last.instrument, placed(last), last.settings) == (
        entry.instrument, placed(entry), entry.settings)
    return alike and all(one.arguments != entry.arguments for one in group)


def _use(bench: BenchSession, group: list[Entry]) -> list[Use]:
    try:
        taken = bench.retaken(group[0])
    except (InputError, ConvergenceError, TypeError, ValueError):
        return []
    impossible = sift(group, bench.expected)[1]
    return [Use(tuple(entry.n for entry in group), taken, not impossible)]


class BenchJob:
    """One sealed bench of a learner, at the desk; bench; number [its key's]; folder [the lab's]."""

    def __init__(self, bench: BenchSession, number: str, folder) -> None:
        keys = desk_keys(folder)
        self.bench, self.key, self._of = bench, keys.key(number), keys.complained(number)
        self._uses: tuple[tuple[Entry, ...], list[Use]] | None = None

    @property
    def right(self) -> list[tuple[str, str]]:
        """Pairs (part, mode) that are right."""
        return list(self.key.right)

    def uses(self, entries: Iterable[Entry]) -> list[Use]:
        """Uses of instruments at this bench, worked out again once."""
        entries = tuple(entries)
        if self._uses is None or self._uses[0] != entries:
            self._uses = entries, uses_of(self.bench, entries)
        return self._uses[1]

    def score(self, entries: Iterable[Entry]) -> tuple[PathScore, dict[int, PathStep]]:
        """Return the path as judged, and its steps by the numbers of their entries."""
        problem = self._of.problem
        left, steps, by_number = problem.problem.everyone, [], {}
        for use in self.uses(entries):
            step = read_step(problem, use.taken, use.numbers[0], use.possible,
                             Sieve(problem, left))
            left &= left_by(step, problem.problem) or -1
            steps.append(step)
            by_number |= dict.fromkeys(use.numbers, step)
        return score_path(problem.problem, steps, self.key.fault, problem.parts,
                          self._of.values), by_number

    def scored(self, given: Mapping[str, Any], entries: Iterable[Entry]) -> Judged:
        """Judge a diagnosis by cause, proof and path; the rule `scored` of a diagnosis.

        given ["part", "mode", "evidence": numbers of entries]; entries [the whole journal].
        """
        score, by_number = self.score(entries)
        late = {one.step.number for one in score.of_kind(AFTER)}
        named = {id(step): step for n, step in by_number.items()
                 if n in given["evidence"] and step.number not in late}
        proof = proof_of(self._of.problem.problem, named.values(), self.key.fault,
                         self._of.problem.parts)
        if not named:
            proof = replace(proof, words=_unnamed(given["evidence"], by_number))
        right_mode = any(fold(mode) == fold(given["mode"]) for part, mode in self.key.right
                         if fold(part) == fold(given["part"]))
        marks = mark_path(replace(score, proof=proof), True, right_mode)
        said = _misplaced(given["evidence"], by_number, entries, late)
        shares = ", ".join(f"{name} {100 * got / full:.0f} %" for name, got, full in (
            ("cause", marks.part + marks.mode, SHARES.part + SHARES.mode),
            ("proof", marks.proof, SHARES.proof), ("path", marks.path, SHARES.path)))
        name = self._named(score, marks, right_mode, given)
        return Judged(marks.total, name,
                      "\n".join([f"Of the marks for each: {shares}.", *said, *marks.words]))

    def _named(self, score: PathScore, marks: PathMarks, right_mode: bool, given: Mapping[str, Any]) -> str:
        """The gravest of what went wrong, by name; "" when nothing did."""
        full = SHARES.path * LEAST_PATH
        kinds = ((score.impossible, IMPOSSIBLE), (not right_mode, OTHER_MODE),
                 (score.early, EARLY_NAME),
                 (marks.proof < SHARES.proof * LEAST_PATH, GUESSED),
                 (score.refusals, REFUSED_NAME),
                 (marks.path < full and any(one.cost for one in score.wasted), WASTED_NAME),
                 (marks.path < full and score.of_kind(DEAR), DEAR_NAME))
        return next((name for holds, name in kinds if holds), "")

    def wanted(self) -> dict[str, Wanted]:
        """What of the work a journal must show, for marking it; names are the learner's words."""
        def at(name: str, test) -> tuple[str, Wanted]:
            return f"{self.bench.name}: {name}", Wanted(
                bench=self.bench.name, test=lambda entry: test(self.bench.retaken(entry)))

        return dict([at(f"{VERIFIED} before the first repair", self._verifies),
                     at(REPAIRED, self._repairs), at(CONFIRMED, self._confirms)])

    def did(self, what: str, entries: Iterable[Entry]) -> bool:
        """Say whether a journal shows that the work was done [VERIFIED, REPAIRED or CONFIRMED]."""
        test = {VERIFIED: self._verifies, REPAIRED: self._repairs, CONFIRMED: self._confirms}[what]
        return any(test(use.taken) for use in self.uses(entries) if use.possible)

    def _verifies(self, taken: Taken) -> bool:
        return not taken.standing.get("replaced") and self._shows(taken)

    def _shows(self, taken: Taken) -> bool:
        """Say whether a use reads in the complaint's state what the complaint is about."""
        return (not taken.refused and taken.standing.get("state") == self.key.state
                and bool(set(taken.values) & set(self._of.problem.complaint.readings)))

    def _repairs(self, taken: Taken) -> bool:
        return (not taken.refused and taken.instrument == "replace"
                and taken.arguments.get("part") == self.key.part)

    def _confirms(self, taken: Taken) -> bool:
        if self.key.part not in taken.standing.get("replaced", ()):
            return False
        if taken.instrument == "confirm":
            return not taken.refused and taken.values["states off"].value == 0
        return self._shows(taken)


def _unnamed(evidence, by_number) -> str:
    """What to say when nothing that is named can prove anything."""
    if any(n in by_number for n in evidence):
        return "Only readings after the repair are named; they cannot prove the cause."
    return ("No reading of this bench is named that proves it." if evidence else
            "No reading is named that proves it.")


def _misplaced(evidence, by_number, entries: Iterable[Entry], late: set[int]) -> list[str]:
    """Sentences on evidence that is not of this bench's journal, or came after the repair."""
    known = {entry.n for entry in entries}
    if not known:
        return ["Your journal holds no readings: was journal.jsonl handed in with the notebook?"]
    absent = [n for n in evidence if n not in known]
    other = [n for n in evidence if n in known and n not in by_number]
    after = [n for n in evidence if n in by_number and by_number[n].number in late]
    return [f"{words} {', '.join(map(str, found[:6]))}." for words, found in (
        ("Not in your journal: entry", absent), ("Of another bench: entry", other),
        ("Taken after the repair, so it proves nothing: entry", after))
        if found]


def work_mistakes(jobs: Iterable[BenchJob]) -> dict[str, Mistake]:
    """Return what is foreseen to be missing in a journal of several benches, for marking it."""
    jobs = tuple(jobs)

    def lacks(later: str, earlier: str):
        def holds(entries: Iterable[Entry]) -> bool:
            return any(job.did(earlier, entries) and not job.did(later, entries) for job in jobs)
        return holds

    return {
        NOT_CONFIRMED: Mistake(lacks(CONFIRMED, REPAIRED), 1.0,
                               "After the repair go back into the customer's state and look."),
        NOT_VERIFIED: Mistake(lacks(VERIFIED, REPAIRED), 1.0,
                              "See the complaint yourself before anything is put right."),
    }


def bench_job(sheet, bench: BenchSession, number: str) -> BenchJob:
    """Return a sealed bench of the learner for marking [sheet, bench, number: the case's].

    Raises InputError outside marking, and for a number without a key.
    """
    return BenchJob(bench, str(number), sheet._at_desk().folder)


class Sieve:
    """Which suspects could have given a reading that is none of the problem's tests.

    The model is asked for every suspect that is left, while these are few; of more, such a
    reading says nothing. problem; left [suspects before the reading, bits].
    """

    most = 12

    def __init__(self, problem: BenchProblem, left: int) -> None:
        self._problem, self._left = problem, left

    def __call__(self, taken: Taken) -> tuple[str, ...]:
        names = self._problem.problem.names(self._left)
        if len(names) > self.most:
            return self._problem.problem.faults
        kept = self._problem.bench.memory.setdefault("agreeing", {})
        asked = (names, taken.words, str(taken.standing))
        if asked not in kept:
            kept[asked] = tuple(agreeing_suspects(self._problem, taken, names))
        return kept[asked]
