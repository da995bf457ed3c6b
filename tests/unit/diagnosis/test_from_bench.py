"""Suspects, outcomes, tables and trees that come from a bench."""

import gzip
import itertools
import json
import re
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldbench.bench import read
from coldbench.cli.app import main
from coldbench.diagnosis.from_bench import (
    Complaint,
    bench_problem,
    cache,
    check_claims,
    claimed_cut_sets,
    derive,
    differ,
    shown_table,
    tree_from_bench,
    work,
)
from coldbench.diagnosis.from_bench.classes import classes
from coldbench.diagnosis.from_bench.fingerprint import fingerprint
from coldbench.diagnosis.from_bench.priors import checked_weights
from coldbench.diagnosis.strategy import plan
from coldbench.diagnosis.strategy.problem import bits
from coldbench.diagnosis.tree import tree_from
from coldbench.diagnosis.tree.mocus import mocus
from coldbench.errors import InputError

numbers = st.one_of(st.none(), st.tuples(
    st.one_of(st.floats(-20.0, 20.0), st.just(math.nan)), st.floats(0.0, 3.0)))


@given(st.lists(numbers, min_size=1, max_size=12))
def test_classes_part_only_what_an_instrument_tells_apart(readings):
    places, found = classes(readings, "V")
    assert all(0 <= place < len(found) for place in places)
    for (i, one), (j, other) in itertools.combinations(enumerate(readings), 2):
        if places[i] != places[j] and one and other:
            assert differ(one, other)
    assert len({one.words for one in found}) <= len(found)


@given(st.lists(st.tuples(st.floats(-20.0, 20.0), st.floats(0.0, 3.0)), min_size=1, max_size=9))
def test_classes_join_only_chains_of_what_cannot_be_told_apart(readings):
    places, _ = classes(readings)
    for place in set(places):
        members = [one for one, at in zip(readings, places, strict=True) if at == place]
        linked, waiting = {0}, [0]
        while waiting:
            here = members[waiting.pop()]
            new = [n for n, one in enumerate(members) if n not in linked and abs(
                one[0] - here[0]) <= (one[1] + here[1]) * (1 + 1e-6) + 1e-6]
            linked |= set(new)
            waiting += new
        assert len(linked) == len(members)


def test_outcomes_of_the_bench_are_separated_readings(stopped_fan):
    """Two suspects with different outcomes differ in some reading beyond both uncertainties."""
    for test in stopped_fan.problem.tests:
        keys = stopped_fan.sorted[test.name].test.keys
        state = stopped_fan.sorted[test.name].test.state
        for (_, one), (_, other) in itertools.combinations(test.outcomes, 2):
            for i, j in itertools.product(bits(one), bits(other)):
                a, b = (stopped_fan.table.row(state, (stopped_fan.problem.faults[n],))
                        for n in (i, j))
                assert any((key in a) != (key in b) or key in a and differ(a[key], b[key])
                           for key in keys)


def test_every_suspect_shows_the_complaint_and_no_other_fault_does(quay, stopped_fan):
    symptom = quay.symptoms["fan does not turn"]
    assert "undercharge" not in stopped_fan.problem.faults
    assert set(stopped_fan.problem.faults) >= {"F1:blown", "M1:open", "head:dead"}
    for fault in ("M1:open", "undercharge"):
        flow = read(quay, symptom.state, [fault]).values["condenser flow"].value
        assert (flow < 20.0) == (fault in stopped_fan.problem.faults)


def test_an_outcome_is_found_again_from_a_reading(stopped_fan):
    for test in stopped_fan.problem.tests[::7]:
        one = stopped_fan.sorted[test.name]
        for fault in stopped_fan.problem.faults:
            row = stopped_fan.table.row(one.test.state, (fault,))
            shown = {key: row[key] for key in one.test.keys if key in row}
            assert one.outcome(shown) == stopped_fan.outcome(test.name, fault)


def test_a_reading_leaves_the_suspects_that_could_give_it(stopped_fan):
    row = stopped_fan.table.row("cooling", ("F1:blown",))
    left = stopped_fan.agreeing({"tp 3": row["tp 3"]}, "cooling")
    names = stopped_fan.problem.names(left)
    assert "F1:blown" in names and len(names) < len(stopped_fan.suspects)


def test_volts_of_a_table_are_what_the_meter_shows_and_no_proof_by_millivolts(quay, stopped_fan):
    """At the ± 0.01 V of the workshop's list, whatever the meter's finest range resolves."""
    held = 0
    for test in stopped_fan.tests:
        if test.instrument != "voltmeter":
            continue
        session = quay.session(test.state, ["W11:open"])
        red, black = (None if place == "ground" else place for place in test.place)
        met = session.meter("volts", red, black).values["volts"]
        value, around = stopped_fan.table.row(test.state, ("W11:open",))[test.keys[0]]
        if math.isnan(met.value):
            assert math.isnan(value)
            continue
        held += 1
        assert around >= max(0.01, 0.005 * abs(value)) and abs(value - met.value) <= met.uncertainty
    assert held >= 20


def test_a_limit_keeps_the_likeliest(quay, stopped_fan):
    few = bench_problem(quay, "fan does not turn", limit=3, workers=1,
                        pool=stopped_fan.problem.faults)
    assert few.problem.faults == stopped_fan.problem.faults[:3]
    assert min(few.problem.prior) / max(few.problem.prior) == pytest.approx(
        stopped_fan.problem.prior[2] / stopped_fan.problem.prior[0])


def test_more_states_to_test_in_never_cost_more(quay, stopped_fan):
    costs = [plan(bench_problem(quay, "fan does not turn", workers=1, states=states,
                                pool=["F1:blown", "M1:open", "W4:open", "W10:open", "head:dead",
                                      "RT22:open"]).problem)
             for states in (["cooling"], ["cooling", "mild"], list(quay.states))]
    assert all(one.exact for one in costs)
    groups = [sum(len(group) - 1 for group in one.inseparable) for one in costs]
    assert groups[0] >= groups[1] >= groups[2]
    if len(set(groups)) == 1:
        assert costs[0].expected_cost >= costs[1].expected_cost >= costs[2].expected_cost


# --- the cache -----------------------------------------------------------------------------------
def test_a_second_table_simulates_nothing(quay, stopped_fan, monkeypatch):
    monkeypatch.setattr(work, "simulate", lambda *_: pytest.fail("simulated again"))
    again = shown_table(quay, ["cooling"], [("M1:open",), ("F1:blown",)])
    assert again.row("cooling", ["M1:open"]) == stopped_fan.table.row("cooling", ["M1:open"])


@pytest.mark.parametrize("damage", [
    b"", b"not gzip", gzip.compress(b"{"), gzip.compress(b"[]"), gzip.compress(b'{"form": 1}'),
    gzip.compress(json.dumps({"form": 1, "keys": {"a": ["V", "x"]}, "failed": [],
                              "rows": [["cooling", [], [7], [1.0, 2.0]]]}).encode()),
    gzip.compress(json.dumps({"form": 1, "keys": {}, "failed": [], "rows": 5}).encode()),
    gzip.compress(b"x" * 1000)[:40],
], ids=["empty", "not gzip", "cut text", "list", "form only", "long row", "no rows", "cut file"])
def test_a_damaged_cache_is_as_good_as_none(quay, tmp_path, monkeypatch, damage):
    monkeypatch.setenv("COLDBENCH_CACHE", str(tmp_path))
    (tmp_path / f"table-quay-{fingerprint(quay)}.json.gz").write_bytes(damage)
    assert cache.load(quay).rows == {}
    row = shown_table(quay, ["off"], [()], workers=1).row("off", ())
    assert cache.load(quay).rows["off", ()].keys() == row.keys()


def test_a_cache_that_cannot_be_written_does_no_harm(quay, tmp_path, monkeypatch):
    (tmp_path / "file").write_text("here")
    monkeypatch.setenv("COLDBENCH_CACHE", str(tmp_path / "file" / "folder"))
    assert shown_table(quay, ["off"], [()], workers=1).row("off", ()) is not None


def test_old_tables_of_the_same_bench_are_taken_away(quay, tmp_path, monkeypatch):
    monkeypatch.setenv("COLDBENCH_CACHE", str(tmp_path))
    old, other = (tmp_path / f"table-{name}-{'0' * 40}.json.gz" for name in ("quay", "quay-two"))
    old.write_bytes(b"")
    other.write_bytes(b"")
    cache.save(quay, cache.Store())
    assert not old.exists() and other.exists() and len(list(tmp_path.iterdir())) == 2


def test_the_fingerprint_changes_with_the_bench(quay):
    from dataclasses import replace

    changed = replace(quay, heater=replace(quay.heater, effectiveness=0.5), memory={})
    assert fingerprint(changed) != fingerprint(quay)
    assert fingerprint(replace(quay, memory={})) == fingerprint(quay)


def test_two_processes_give_the_rows_of_one(quay, monkeypatch):
    wanted = [("off", ()), ("off", ("M1:open",)), ("mild", ("F1:blown",))]
    monkeypatch.setattr(work, "FEW", 2)
    assert repr(work.simulate(quay, wanted, 2)) == repr(work.simulate(quay, wanted, 1))


# --- trees ---------------------------------------------------------------------------------------
def test_a_derived_tree_says_what_the_bench_says(quay):
    """Single faults and pairs of a small pool, against every one simulated here."""
    pool = ["M1:worn", "M1:high_resistance", "K1:contacts_burnt", "W10:open", "condenser-fouled"]
    complaint = Complaint("poor air", "cooling",
                          lambda shown: shown.values["condenser flow"].value < 44.0,
                          ("condenser flow",))
    found = tree_from_bench(quay, complaint, workers=1, pool=pool)

    def shows(*faults):
        return complaint.shows(read(quay, "cooling", faults))

    singles = [one for one in pool if shows(one)]
    others = [one for one in pool if one not in singles]
    pairs = {frozenset(pair) for pair in itertools.combinations(others, 2)
             if pair[0].split(":")[0] != pair[1].split(":")[0] and shows(*pair)}
    assert list(found.singles) == singles == ["W10:open"] and len(pairs) == 2
    assert {frozenset(pair) for pair in found.doubles} == pairs
    *_, rows = mocus(found.tree)
    assert {frozenset(row) for row in rows} == {frozenset([one]) for one in singles} | pairs


def test_two_fans_stand_in_for_each_other():
    """On a bench with two fans one dead fan is no dead fan; two are, and the tree says so."""
    from coldbench.bench import load_bench

    pool = ["M1:open", "M2:open", "F1:blown", "undercharge", "M1:stalled"]
    found = tree_from_bench(load_bench("blue"), "fans never run", workers=1, pool=pool)
    assert found.singles == ()
    assert {frozenset(pair) for pair in found.doubles} == {
        frozenset(["M2:open", other]) for other in ("M1:open", "F1:blown", "M1:stalled")}


def test_a_budget_of_pairs_is_kept_and_told(quay, monkeypatch):
    pool = ["M1:worn", "condenser-fouled", "undercharge", "belt-slip", "M1:open"]
    none, one = (tree_from_bench(quay, "fan does not turn", pairs=n, workers=1, pool=pool)
                 for n in (0, 1))
    assert (none.tried, none.doubles) == (0, ()) and none.left > 1
    assert one.tried == 1 and one.left == none.left - 1


def test_claims_are_confirmed_or_refuted_with_the_reading(quay):
    found = check_claims(quay, "fan does not turn", [
        ["M1:open"], ["undercharge"], ["M1:open", "undercharge"]], workers=1)
    assert [one.verdict for one in found] == ["confirmed", "refuted", "not minimal"]
    flow = read(quay, "cooling", ["undercharge"]).values["condenser flow"].value
    assert f"condenser flow: {flow:.4g} %" in found[1].words
    assert "M1:open without undercharge" in found[2].words


def test_claims_of_a_tree_are_its_minimal_cut_sets():
    tree = tree_from({"top": "t", "gate": {
        "t": {"kind": "or", "inputs": ["a", "g"]}, "g": {"kind": "and", "inputs": ["b", "h"]},
        "h": {"kind": "or", "inputs": ["c", "a"]}}, "event": {"a": 0.1, "b": 0.1, "c": 0.1}})
    assert claimed_cut_sets(tree) == [("a",), ("b", "c")]


@pytest.mark.parametrize("say, words", [
    (lambda quay: bench_problem(quay, "sings"), "has no symptom 'sings'"),
    (lambda quay: bench_problem(quay, "fan does not turn", pool=["X9:open"]), "'X9:open'"),
    (lambda quay: bench_problem(quay, "fan does not turn", pool=["undercharge"], workers=1),
     "no single fault"),
    (lambda quay: bench_problem(quay, "fan does not turn", limit=0, pool=["M1:open"],
                                workers=1), "limit of 0"),
    (lambda quay: shown_table(quay, ["nowhere"], [()]), "no state 'nowhere'"),
    (lambda quay: check_claims(quay, "fan does not turn", [["M1:broken"]]), "M1:broken"),
    (lambda quay: tree_from_bench(quay, Complaint("all is well", "cooling", lambda shown: True),
                                  pool=["M1:open"], workers=1), "no fault at all"),
    (lambda quay: checked_weights({"wire": {"open": -1, "other": 1}}), "priors.toml: wire: open"),
    (lambda quay: checked_weights({"wire": {"open": 1}}), "priors.toml: wire"),
])
def test_bad_input_is_one_sentence(quay, say, words):
    with pytest.raises(InputError, match=".*") as caught:
        say(quay)
    assert words in str(caught.value)


# --- the commands --------------------------------------------------------------------------------
@pytest.fixture
def small_catalogue(quay, monkeypatch):
    """The quay bench with a few faults only, so that commands are quick."""
    every = derive.catalogue(quay)
    kept = tuple(one for one in every if one.id in (
        "M1:open", "M1:stalled", "F1:blown", "W4:open", "undercharge", "condenser-fouled"))
    monkeypatch.setitem(quay.memory, "catalogue", kept)


def run(capsys, *words):
    with pytest.raises(SystemExit) as left:
        main(list(words))
    said = capsys.readouterr()
    return left.value.code, said.out, said.err


def test_sequence_command(quay, small_catalogue, capsys):
    words = ["sequence", "--bench", "quay", "--symptom", "fan does not turn"]
    code, out, _ = run(capsys, *words, "--json")
    found = json.loads(out)
    assert code == 0 and set(found["suspects"]) == {"M1:open", "M1:stalled", "F1:blown",
                                                    "W4:open"}
    assert 0 < found["expected_cost"] <= found["greedy_expected_cost"] and found["exact"]
    code, out, _ = run(capsys, *words)
    assert code == 0 and "4 single faults show it in “cooling”" in out and "cause: M1:open" in out
    legend = out.split("Suspects, likeliest first\n")[1]
    assert legend.count("\n") == 4 and "M1:open: M1 (Condenser fan)" in legend
    wire = quay.circuit.wires["W4"]
    assert f"W4:open: W4 (wire): wire open, between {wire.start} and {wire.end}" in legend
    used = set(re.findall(r"voltmeter (\d+)", out))
    assert all(f"\n  {n}  {quay.circuit.test_points[int(n)].label}\n" in out for n in used)


def test_tree_command(small_catalogue, capsys, tmp_path):
    claims = tmp_path / "claims.toml"
    claims.write_text('top = "no fan"\n[gate."no fan"]\nkind = "or"\n'
                      'inputs = ["M1:open", "undercharge"]\n'
                      '[event]\n"M1:open" = 0.1\nundercharge = 0.1\n')
    words = ["tree", "--bench", "quay", "--symptom", "fan does not turn", "--claims", str(claims)]
    code, out, _ = run(capsys, *words, "--json", "--draw", str(tmp_path / "tree.svg"))
    found = json.loads(out)
    assert code == 0 and ["M1:open"] in found["minimal_cut_sets"]
    assert [one["verdict"] for one in found["claims"]] == ["confirmed", "refuted"]
    assert ["F1:blown"] in found["not_claimed"] and found["pairs_left"] == 0
    assert (tmp_path / "tree.svg").stat().st_size > 1000
    code, out, _ = run(capsys, *words)
    assert "refuted: undercharge" in out and "Not claimed: " in out and "Pairs are tried" in out
    assert "  F1:blown: F1 (Fuse, fan): fuse blown\n" in out


@pytest.mark.parametrize("words, told", [
    (["sequence"], "name a problem's file, or a bench"),
    (["sequence", "x.json", "--bench", "quay"], "and not both"),
    (["sequence", "x.json", "--limit", "3"], "go with --bench"),
    (["sequence", "--bench", "quay"], "--symptom is missing; quay has: "),
    (["sequence", "--bench", "quay", "--symptom", "fan does not turn", "--limit", "0"],
     "--limit 0"),
    (["sequence", "--bench", "nowhere", "--symptom", "x"], "no bench 'nowhere'"),
    (["tree"], "name a tree's file, or a bench"),
    (["tree", "pressure-tank", "--pairs", "3"], "go with --bench"),
    (["tree", "--bench", "quay", "--symptom", "x", "--pairs", "-1"], "--pairs -1"),
    (["tree", "--bench", "quay", "--symptom", "x"], "has no symptom 'x'"),
])
def test_commands_refuse_in_one_sentence(words, told, capsys):
    code, _, err = run(capsys, *words)
    assert code != 0 and told in err and "Traceback" not in err and err.count("\n") == 1
