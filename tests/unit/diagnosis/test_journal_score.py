"""Scoring a path: against brute force on small tables, and scripted learners at a bench."""

import functools
import math
import runpy
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coldbench.bench import open_sealed, seal
from coldbench.diagnosis.journal import (
    SHARES,
    agreeing_suspects,
    PathStep,
    Shares,
    mark_path,
    proof_of,
    read_step,
    read_steps,
    score_path,
    score_taken,
)
from coldbench.diagnosis.journal import score as kinds
from coldbench.diagnosis.journal.words import path_in_words
from coldbench.diagnosis.strategy import plan, problem_from
from coldbench.diagnosis.strategy.values import Values
from coldbench.errors import InputError

HERE = Path(__file__).parent
learners = runpy.run_path(str(HERE / "learners.py"))


@st.composite
def problems(draw):
    """Small problems: up to six faults and five tests of up to three outcomes."""
    faults = [f"f{n}" for n in range(draw(st.integers(1, 6)))]
    tests = {f"t{n}": {"cost": draw(st.floats(0.0, 9.0)), "outcomes": {
        fault: draw(st.sampled_from("abc")) for fault in faults}}
        for n in range(draw(st.integers(0, 5)))}
    return problem_from({"faults": {fault: draw(st.floats(0.001, 1.0)) for fault in faults},
                         "tests": tests})


def step_of(problem, test, fault, n=1, **more):
    bit = problem.suspects([fault])
    outcome = next((name for name, mask in problem.test[test].outcomes if mask & bit), "")
    return PathStep(n, test, test, outcome, minutes=problem.test[test].cost, **more)


def brute_values(problem):
    """Cost to go of every suspect set, on plain sets."""
    chance = dict(zip(problem.faults, problem.prior, strict=True))
    tests = {t.name: (t.cost, [frozenset(problem.names(m)) for _, m in t.outcomes])
             for t in problem.tests}

    def weight(suspects):
        return sum(chance[f] for f in suspects)

    @functools.cache
    def to_go(suspects):
        here = [with_test(name, suspects) for name, (_, parts) in tests.items()
                if all(suspects & part != suspects for part in parts)]
        return min(here, default=0.0)

    def with_test(name, suspects):
        cost, parts = tests[name]
        return cost + sum(weight(suspects & part) / weight(suspects) * to_go(suspects & part)
                          for part in parts if suspects & part)

    return to_go, with_test


@settings(max_examples=80)
@given(problems(), st.data())
def test_expected_cost_of_a_path_equals_brute_force(problem, data):
    fault = data.draw(st.sampled_from(problem.faults))
    names = data.draw(st.lists(st.sampled_from([t.name for t in problem.tests]), max_size=4)
                      if problem.tests else st.just([]))
    found = score_path(problem, [step_of(problem, name, fault, n)
                                 for n, name in enumerate(names, 1)], fault)
    to_go, with_test = brute_values(problem)
    left = frozenset(problem.faults)
    expected = to_go(left)
    for name in names:
        outcome = next(frozenset(problem.names(mask)) for _, mask in problem.test[name].outcomes
                       if fault in problem.names(mask))
        splits = left & outcome != left
        expected += (with_test(name, left) - to_go(left)) if splits else problem.test[name].cost
        left &= outcome
    assert found.best_minutes == pytest.approx(to_go(frozenset(problem.faults)), abs=1e-9)
    assert found.expected_minutes == pytest.approx(expected, rel=1e-9, abs=1e-9)
    assert frozenset(problem.names(found.proof.left)) == left
    assert found.expected_minutes >= found.best_minutes - 1e-12


@settings(max_examples=60)
@given(problems(), st.data())
def test_the_best_order_has_no_regret_and_proves_the_cause(problem, data):
    fault = data.draw(st.sampled_from(problem.faults))
    step, steps = plan(problem).strategy, [PathStep(words="the complaint", verifies=True)]
    while step.test is not None:
        steps.append(step_of(problem, step.test.name, fault, len(steps) + 1))
        step = step.branches[steps[-1].outcome]
    found = score_path(problem, steps, fault)
    assert found.expected_minutes == pytest.approx(found.best_minutes, rel=1e-9, abs=1e-9)
    assert found.proof.mode and found.left_good_path is None and not found.wasted
    assert mark_path(found, True, True).total == pytest.approx(1.0)


THREE = problem_from({"faults": {"K1:open": 0.5, "K1:burnt": 0.2, "F1:blown": 0.3}, "tests": {
    "fuse": {"cost": 1, "outcomes": {"K1:open": "whole", "K1:burnt": "whole", "F1:blown": "out"}},
    "coil": {"cost": 2, "outcomes": {"K1:open": "none", "K1:burnt": "some", "F1:blown": "some"}},
    "fan": {"cost": 4, "outcomes": {"K1:open": "a", "K1:burnt": "b", "F1:blown": "c"}}}})
PARTS = {"K1:open": "K1", "K1:burnt": "K1", "F1:blown": "F1"}


def scored(*steps, truth="K1:open", **more):
    return score_path(THREE, steps, truth, PARTS, **more)


def step(test, n=1, truth="K1:open", **more):
    return step_of(THREE, test, truth, n, **more)


def test_kinds_of_steps_are_told_apart():
    found = scored(step("fuse", 1), step("fuse", 2), step("coil", 3), step("fan", 4),
                   PathStep(5, "ohms", refused="engine off before the ohmmeter"),
                   PathStep(6, "odd", minutes=3.0))
    assert [one.kind for one in found.steps] == [
        "narrows", "repeated", "narrows", "implied", "refused", "implied"]
    # best: coil first (2), the fuse for half of what is left: 2 + 0.5·1 = 2.5 min; fuse first
    # costs 1 + 0.7·2 = 2.4 min and is better; then repeated 1, implied 4 and 3
    assert found.best_minutes == pytest.approx(2.4)
    assert found.expected_minutes == pytest.approx(2.4 + 1 + 4 + 3)
    assert [one.step.number for one in found.wasted] == [2, 4, 6]
    assert found.left_good_path.step.number == 2
    assert found.refusals[0].step.number == 5


def test_words_name_the_step_where_the_path_left_the_good_ones():
    said = " ".join(path_in_words(scored(step("fan", 3))))
    assert "At entry 3 (fan) your path left the good ones: it takes 4 min" in said
    assert "Best was “fuse” (1 min): it parts them into 2 groups." in said
    said = " ".join(path_in_words(scored(step("fuse", 1), step("fuse", 2))))
    assert "entry 2 (fuse) your path left the good ones: it repeats" in said
    assert "Best was “coil” (2 min)" in said
    said = " ".join(path_in_words(scored(step("fuse", 1), PathStep(
        2, "ohms", refused="engine off before the ohmmeter"))))
    assert "left the good ones" not in said and "Engine off before the ohmmeter." in said


def test_a_part_replaced_before_proof_is_named_and_costs():
    guess = PathStep(2, "replace K1", replaced="K1", minutes=20)
    early, late = scored(step("coil", 1)), scored(step("coil", 1), guess)
    assert not late.early and early.proof.mode  # coil: none → open, nothing else
    wrong = scored(PathStep(1, "replace F1", replaced="F1"), step("fuse", 2), step("coil", 3))
    assert [one.kind for one in wrong.steps] == ["replaced early", "implied", "narrows"]
    assert "F1 was replaced while 3 causes were left" in " ".join(path_in_words(wrong))
    lucky = scored(replace(guess, number=1), step("coil", 2))
    assert [one.kind for one in lucky.steps] == ["replaced early", "after the repair"]
    assert not lucky.proof.part and mark_path(lucky, True, True).total == pytest.approx(0.4)


def test_proof_of_the_part_alone_earns_a_part():
    found = scored(step("fuse"))
    assert found.proof.part and not found.proof.mode
    marks = mark_path(found, True, True)
    assert marks.proof == pytest.approx(SHARES.proof * SHARES.part_proof)
    assert "not yet what is wrong with it" in marks.words[0]


def test_readings_that_the_bench_could_not_give_prove_nothing():
    made_up = scored(step("fuse", 1), replace(step("coil", 2), possible=False))
    assert [one.kind for one in made_up.steps] == ["narrows", "impossible"]
    assert not made_up.proof.mode and mark_path(made_up, True, True).path == 0.0
    assert "could not have given entry 2 (coil)" in " ".join(path_in_words(made_up))
    other = scored(PathStep(1, "coil", "coil", "some"), step("fuse", 2))  # of another cause
    assert other.steps[0].kind == "contrary" and other.proof.part
    assert "Not what this bench shows" in " ".join(path_in_words(other))


def test_verifying_the_complaint_once_is_no_waste():
    seen = PathStep(1, "vent thermometer", minutes=1.0, verifies=True)
    kept = scored(seen, replace(seen, number=2), replace(seen, number=3, words="anemometer"))
    assert [one.kind for one in kept.steps] == ["verifies", "repeated", "verifies"]
    assert kept.expected_minutes == pytest.approx(2.4 + 1.0)
    alone = scored(start=THREE.suspects(["K1:open"]))
    assert not alone.proof.part, "one suspect only, but nothing was measured"
    assert scored(seen, start=THREE.suspects(["K1:open"])).proof.mode


def test_readings_outside_the_tests_count_by_what_they_leave():
    found = scored(PathStep(1, "box on the sensor", leaves=THREE.suspects(["K1:open"]),
                            minutes=2.0))
    assert found.proof.mode and found.steps[0].kind == "narrows"
    assert found.expected_minutes == pytest.approx(2.4)  # 2 min and nothing left: no regret
    ready = scored(PathStep(1, "unplug K1", prepares=True, minutes=2.0), step("coil", 2))
    assert ready.steps[0].kind == kinds.PREPARES and not ready.wasted


def test_named_evidence_alone_is_judged():
    both = proof_of(THREE, [step("fuse"), step("coil")], "K1:open", PARTS)
    assert both.mode and "leave one cause only" in both.words
    assert "leave 2 causes: K1 open, K1 burnt" in proof_of(
        THREE, [step("fuse")], "K1:open", {}).words
    assert "do not agree" in proof_of(THREE, [PathStep(test="fuse", outcome="out")], "K1:open",
                                      PARTS).words
    assert "No single cause" in proof_of(THREE, [
        PathStep(test="fuse", outcome="out"), step("coil")], "K1:open", PARTS).words


def test_unknown_names_and_shares_are_refused():
    with pytest.raises(InputError, match="'sniff' is not a test"):
        scored(PathStep(test="sniff", outcome="x"))
    with pytest.raises(InputError, match="is not a fault of this problem"):
        scored(truth="K9:open")
    with pytest.raises(InputError, match="must sum to 1"):
        Shares(part=0.5)


# --- scripted learners at a bench ---------------------------------------------------------------
@pytest.fixture(scope="module")
def fan_values(stopped_fan):
    return Values(stopped_fan.problem)


def parts_of(bench):
    return {one.id: one.part for one in bench.suspects}


def test_a_perfect_learner_reaches_full_marks_on_every_fault(stopped_fan, fan_values):
    strategy = plan(stopped_fan.problem).strategy
    for fault in stopped_fan.problem.faults:
        found = score_path(stopped_fan.problem, learners["perfect"](stopped_fan, strategy, fault),
                           fault, parts_of(stopped_fan), values=fan_values)
        assert mark_path(found, True, True).total == pytest.approx(1.0), fault


def test_a_prodder_never_reaches_full_marks(stopped_fan, fan_values):
    totals = []
    for seed, fault in enumerate(stopped_fan.problem.faults):
        found = score_path(stopped_fan.problem, learners["prodder"](stopped_fan, fault, seed),
                           fault, parts_of(stopped_fan), values=fan_values)
        totals.append(mark_path(found, True, True).total)
        assert found.efficiency < 0.8 and found.wasted
    assert max(totals) < 1.0 and sum(totals) / len(totals) < 0.8


def test_a_guesser_gets_the_stated_share(stopped_fan, fan_values):
    for fault in stopped_fan.problem.faults[:4]:
        found = score_path(stopped_fan.problem, [], fault, parts_of(stopped_fan),
                           values=fan_values)
        assert mark_path(found, True, True).total == pytest.approx(SHARES.part + SHARES.mode)
        assert mark_path(found, True, False).total == pytest.approx(SHARES.part)
        assert mark_path(found, False, False).total == 0.0


# --- the same at a session, with real instruments ------------------------------------------------
@pytest.mark.parametrize("fault", ["F1:blown", "K1:coil_shorted", "RT22:open", "W11:open"])
def test_a_perfect_learner_at_a_session(stopped_fan, fan_values, fault):
    session = stopped_fan.bench.session(None, [fault])
    taken = learners["perfect_at"](session, stopped_fan, plan(stopped_fan.problem).strategy,
                                   read_step)
    found = score_path(stopped_fan.problem, read_steps(stopped_fan, taken), fault,
                       stopped_fan.parts, values=fan_values)
    assert found.steps[0].kind == "verifies" and not found.impossible
    assert mark_path(found, True, True).total == pytest.approx(1.0)


def test_a_perfect_learner_at_a_sealed_bench(stopped_fan, fan_values, tmp_path):
    path = tmp_path / "bench.sealed"
    path.write_bytes(seal(stopped_fan.bench, ["W10:open"]))
    taken = learners["perfect_at"](open_sealed(path).session(), stopped_fan,
                                   plan(stopped_fan.problem).strategy, read_step)
    found = score_taken(stopped_fan, taken, "W10:open", values=fan_values)
    assert mark_path(found, True, True).total == pytest.approx(1.0)
    doubted = score_taken(stopped_fan, taken, "W10:open", expected=lambda one: False)
    assert len(doubted.impossible) == len(taken) and not doubted.proof.part


def test_a_confirmation_in_vain_is_true_and_parts_no_suspects(stopped_fan, fan_values, tmp_path):
    """A sealed bench holds fewer states than the model, so their count proves nothing."""
    path = tmp_path / "bench.sealed"
    path.write_bytes(seal(stopped_fan.bench, ["W10:open"], states=("cooling", "off")))
    session = open_sealed(path).session()
    assert session.confirm().values["states off"].value > 0
    found = score_taken(stopped_fan, session.taken, "W10:open", values=fan_values,
                        sieve=lambda one: agreeing_suspects(stopped_fan, one))
    assert not found.of_kind(kinds.CONTRARY) and found.steps[0].after == found.steps[0].before


def test_every_reading_at_a_session_has_the_outcome_of_the_table(stopped_fan):
    """What instruments show, rounded to their displays, falls into the class of the true value."""
    session = stopped_fan.bench.session(None, ["M1:stalled"])
    for one in stopped_fan.sorted.values():
        step = read_step(stopped_fan, learners["make"](session, one.test))
        assert (step.test, step.outcome) == (one.test.name, stopped_fan.outcome(
            one.test.name, "M1:stalled"))


def test_refusals_repairs_and_turned_leads_at_a_session(stopped_fan):
    session = stopped_fan.bench.session("cooling", ["F1:blown"])
    live = read_step(stopped_fan, session.meter("ohms", 3, 5), 1)
    assert live.refused and not live.test
    forward, turned = (read_step(stopped_fan, session.meter("volts", *leads))
                       for leads in ((6, 13), (13, 6)))
    assert forward.test and (forward.test, forward.outcome) == (turned.test, turned.outcome)
    session.set_state("off")
    assert read_step(stopped_fan, session.unplug("M1")).prepares
    box = read_step(stopped_fan, session.meter("ohms", "M1.plus", "M1.minus"), sieve=lambda taken:
                    agreeing_suspects(stopped_fan, taken))
    left = stopped_fan.problem.names(box.leaves)
    assert "F1:blown" in left and "M1:open" not in left
    session.plug("M1")
    repaired = read_step(stopped_fan, session.replace("F1"), 7)
    assert repaired.replaced == stopped_fan.parts["F1:blown"] == "F1"
    after = read_steps(stopped_fan, session.taken)
    assert score_path(stopped_fan.problem, after, "F1:blown", stopped_fan.parts).early


@pytest.mark.parametrize(("fault", "red", "agree"), [
    ("M1:open", 7, {"M1:open"}),  # supply at the motor's plug: all before it is whole
    ("F1:blown", 3, {"F1:blown", "W2:open"}),  # none behind the fuse
    ("head:dead", 3, {"head:dead"}),  # supply behind the fuse, and nothing loads it
    ("head:dead", 7, {"F1:blown", "W2:open", "head:dead"}),
])
def test_suspects_agree_with_a_reading_by_its_number(stopped_fan, fault, red, agree):
    taken = stopped_fan.bench.session(None, [fault]).meter("volts", red, 2)
    among = ("F1:blown", "M1:open", "W2:open", "head:dead")
    assert set(agreeing_suspects(stopped_fan, taken, among)) == agree


def test_suspects_agree_with_an_open_circuit_by_its_words(stopped_fan):
    session = stopped_fan.bench.session("off", ["M1:open"])
    session.unplug("M1")
    taken = session.meter("ohms", "M1.plus", "M1.minus")
    assert not any(math.isfinite(one.value) for one in taken.values.values())
    assert agreeing_suspects(stopped_fan, taken, ("F1:blown", "M1:open")) == ["M1:open"]
