"""The lab on whole-bench diagnosis: benches drawn fairly, nothing given away, ways marked fairly.

The ways are walked at the practice benches themselves, with a journal as a learner keeps it.
"""

import json
import tomllib
from functools import cache
from pathlib import Path

import pytest

from coldbench.bench import catalogue, load_bench
from coldbench.bench.sealed import unpacked
from coldbench.diagnosis.from_bench import best_walk, follow
from coldbench.diagnosis.journal import SHARES, PathStep, mark_path, score_path
from coldbench.errors import InputError
from coldbench.grading.assign_draw import mode_words
from coldbench.grading.lab import grade_id_of, read_source
from coldbench.grading.release import make_release
from coldbench.worksheet import Worksheet, draw_case, read_manifest
from coldbench.worksheet.bench_keys import PRACTICE, desk_keys, read_keys
from coldbench.worksheet.bench_marking import (
    CONFIRMED, EARLY_NAME, REFUSED_NAME, REPAIRED, VERIFIED, WASTED_NAME, BenchJob)
from coldbench.worksheet.bench_session import open_bench_session
from coldbench.worksheet.entries import Owner
from coldbench.worksheet.journal import Journal
from coldbench.worksheet.kinds.diagnosis import GUESSED, IMPOSSIBLE, OTHER_MODE

LAB = "whole-bench-diagnosis"
FOLDER = Path(__file__).parents[2] / "source" / LAB
LEARNERS = tuple(f"ml-{number:02d}" for number in range(1, 25))
KEYS = read_keys(FOLDER, PRACTICE)
NUMBERS = tuple(KEYS.benches)


@pytest.fixture
def at_bench(tmp_path, capsys):
    """A practice bench with a journal: number → (bench session, job at the desk, journal)."""
    def opened(number):
        journal = Journal(tmp_path, Owner("practice", LAB, "ml-07"))
        key = KEYS.key(number)
        bench = open_bench_session(key.file, key.state, journal=journal, name=f"bench {number}",
                                   folder=FOLDER)
        return bench, BenchJob(bench, number, FOLDER), journal
    return opened


def named(key, entries, part=None, mode=None):
    """A diagnosis that names every reading before the repair."""
    evidence = [entry.n for entry in entries if "replaced" not in entry.settings]
    return {"part": part or key.part, "mode": mode or key.mode, "evidence": evidence[:40]}


@cache
def trio_of(learner):
    case = draw_case(FOLDER, LAB, "marsh-lane-2026-autumn", learner)
    return tuple(getattr(case, f"bench_{n}_number") for n in (1, 2, 3))


def test_every_learner_gets_three_benches_of_three_families():
    for learner in LEARNERS:
        assert len({KEYS.key(number).family for number in trio_of(learner)}) == 3


def test_neighbours_have_other_benches_or_another_order():
    pairs = zip(LEARNERS, LEARNERS[1:], strict=False)
    assert all(trio_of(one) != trio_of(other) for one, other in pairs)


def test_a_case_gives_no_cause_away():
    public = json.loads((FOLDER / "benches" / "practice.json").read_text("utf-8"))
    assert all(set(one) == {"file", "complaint", "state"} for one in public["benches"].values())


@pytest.mark.parametrize("number", NUMBERS)
def test_a_sealed_practice_bench_names_no_fault(number):
    key = KEYS.key(number)
    text = json.dumps(unpacked((FOLDER / key.file).read_bytes(), key.file))
    assert key.fault not in text
    assert f'"{key.fault.partition(":")[2] or key.fault}"' not in text


def test_names_of_parts_and_faults_are_those_of_the_bench():
    blue = load_bench("blue")
    for question in read_manifest(FOLDER).questions.values():
        if hasattr(question, "modes"):
            assert question.parts == tuple(blue.session().outfit.parts)
            assert question.modes == tuple(dict.fromkeys(
                mode_words(one.mode) for one in catalogue(blue)))


def test_the_lab_explains_every_name_of_a_fault():
    text = " ".join((FOLDER / f"{LAB}.md").read_text("utf-8").split())
    modes = tomllib.loads((FOLDER / "lab.toml").read_text("utf-8"))["question"][2]["modes"]
    table = text[text.index("| part | what can be wrong |"):text.index("panel-names")]
    assert [mode for mode in modes if mode not in table] == []


@pytest.mark.parametrize("number", NUMBERS)
def test_the_best_way_earns_everything(at_bench, number):
    bench, job, journal = at_bench(number)
    follow(bench, job.key.path)
    found = job.scored(named(job.key, journal.entries), journal.entries)
    assert (found.share, found.name) == (1.0, ""), found.reason
    assert all(job.did(what, journal.entries) for what in (VERIFIED, REPAIRED, CONFIRMED))


def test_a_perfect_learner_earns_everything_on_every_fault_that_shows_a_practice_complaint():
    desk, tried = desk_keys(FOLDER), 0
    for number in NUMBERS:
        of = desk.complained(number)
        for fault in of.problem.problem.faults:
            walk = best_walk(of.problem, fault, of.values)
            steps = [PathStep(n, test=name, outcome=of.problem.outcome(name, fault))
                     for n, name in enumerate(walk.tests, 1)]
            repair = PathStep(99, replaced=of.problem.parts[fault])
            good = score_path(of.problem.problem, [*steps, repair], fault, of.problem.parts,
                              of.values)
            guess = score_path(of.problem.problem, [repair], fault, of.problem.parts, of.values)
            assert mark_path(good, True, True).total == pytest.approx(1.0), fault
            assert mark_path(guess, True, True).total == pytest.approx(
                SHARES.part + SHARES.mode), fault
            tried += 1
    assert tried >= 100


def test_who_names_without_proof_gets_the_stated_share(at_bench):
    bench, job, journal = at_bench(NUMBERS[0])
    bench.look()
    guess = {"part": job.key.part, "mode": job.key.mode, "evidence": []}
    found = job.scored(guess, journal.entries)
    assert found.share == pytest.approx(SHARES.part + SHARES.mode)
    assert found.name == GUESSED


def test_who_prods_at_random_proves_nothing(at_bench):
    bench, job, journal = at_bench(NUMBERS[0])
    for part in ("M1", "M2", "B"):
        bench.clamp(part)
    bench.pipe("suction line")
    found = job.scored(named(job.key, journal.entries), journal.entries)
    assert found.share <= SHARES.part + SHARES.mode + 1e-9 and found.name == GUESSED
    assert not job.did(REPAIRED, journal.entries)


def test_another_fault_of_the_right_part_costs_its_share_only(at_bench):
    bench, job, journal = at_bench(NUMBERS[1])
    follow(bench, job.key.path)
    found = job.scored(named(job.key, journal.entries, mode="bi level cold"), journal.entries)
    assert found.share == pytest.approx(1.0 - SHARES.mode) and found.name == OTHER_MODE


def test_a_part_replaced_early_and_an_unsafe_step_cost_path(at_bench):
    bench, job, journal = at_bench(NUMBERS[2])
    bench.meter("ohms", 5, 6)
    bench.set_state("off")
    bench.replace("belt" if job.key.part != "belt" else "condenser")
    follow(bench, job.key.path)
    found = job.scored(named(job.key, journal.entries) | {"evidence": [
        entry.n for entry in journal.entries if not entry.refused]}, journal.entries)
    lost = SHARES.path * (SHARES.refusal + SHARES.early)
    assert found.share == pytest.approx(1.0 - lost) and found.name == EARLY_NAME
    bench, job, journal = at_bench(NUMBERS[0])
    bench.meter("ohms", 5, 6)
    follow(bench, job.key.path)
    assert job.scored(named(job.key, journal.entries), journal.entries).name == REFUSED_NAME


def test_readings_that_teach_nothing_cost_path_and_are_named(at_bench):
    bench, job, journal = at_bench(NUMBERS[0])
    follow(bench, job.key.path[:-4])
    for _ in range(6):
        bench.gauges()
    found = job.scored(named(job.key, journal.entries), journal.entries)
    assert found.name == WASTED_NAME and 1.0 - SHARES.path <= found.share < 1.0
    assert "gauges" in found.reason


def test_a_made_up_reading_is_found_and_costs_the_path(at_bench):
    bench, job, journal = at_bench(NUMBERS[0])
    follow(bench, job.key.path)
    journal.add("vent thermometer", {"place": "left"}, 99.0, "degC", uncertainty=0.5,
                settings={"bench": bench.name, "state": job.key.state})
    entries = (journal.entries[-1], *journal.entries[:-1])
    found = job.scored(named(job.key, entries), entries)
    assert found.name == IMPOSSIBLE
    assert found.share == pytest.approx(1.0 - SHARES.path)


def test_readings_of_another_bench_prove_nothing(at_bench):
    bench, job, journal = at_bench(NUMBERS[0])
    follow(bench, job.key.path)
    other = at_bench(NUMBERS[1])[1]
    found = other.scored(named(other.key, journal.entries), journal.entries)
    assert found.share <= SHARES.part + SHARES.mode


def test_evidence_from_after_the_repair_is_named_as_such(at_bench):
    bench, job, journal = at_bench("500")
    follow(bench, job.key.path)
    late = [one.n for one in journal.entries if job.key.part in one.settings.get("replaced", [])]
    mixed = {"part": job.key.part, "mode": job.key.mode, "evidence": [1, *late]}
    said = job.scored(mixed, journal.entries).reason
    assert f"Taken after the repair, so it proves nothing: entry {late[0]}." in said.split("\n")


def test_a_confirmation_in_vain_is_not_called_untrue(at_bench):
    bench, job, journal = at_bench("885")
    for call in (["look"], ["set_state", "off"], ["replace", "expansion valve"],
                 ["set_state", "full cooling"], ["confirm"]):
        getattr(bench, call[0])(*call[1:])
    said = job.scored(named(job.key, journal.entries), journal.entries).reason
    assert "(confirm, full cooling" not in said.partition("Not what this bench shows")[2]


def test_the_form_says_which_evidence_the_journal_does_not_have(monkeypatch, capsys):
    monkeypatch.chdir(FOLDER)
    sheet = Worksheet.open(LAB, learner="practice")
    sheet.answer("bench 1", {"part": "K1", "mode": "coil open", "evidence": [99]})
    assert "? bench 1" in (said := capsys.readouterr().out) and "no entry 99" in said


def test_learners_keep_every_line_that_records_an_answer():
    source = read_source(FOLDER / f"{LAB}.md")
    cell = next(cell for cell in source.cells if grade_id_of(cell) == "journal")
    assert "sheet.answer_journal" in next(
        left.source for left in make_release(source).cells if grade_id_of(left) == "journal")
    cell.source = 'sheet.answer_journal("measurements")'
    with pytest.raises(InputError, match="'journal' would reach learners without its sheet.answer"):
        make_release(source)


def test_a_journal_that_was_not_handed_in_is_asked_for(at_bench):
    _, job, _ = at_bench(NUMBERS[0])
    judged = job.scored({"part": job.key.part, "mode": job.key.mode, "evidence": [1, 2]}, ())
    assert judged.name == GUESSED and "was journal.jsonl handed in" in judged.reason
