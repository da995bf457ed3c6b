"""Fault trees: logic, probability and importance by laws, full enumeration and `dd`."""

import itertools
import json
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coldbench.cli.app import main
from coldbench.diagnosis.tree import (
    Gate,
    Tree,
    analyse,
    compare,
    mocus,
    read_tree,
    spread,
    tree_from,
    with_common_cause,
    write_tree,
)
from coldbench.diagnosis.tree.bdd import diagram_of
from coldbench.diagnosis.tree.open_psa import open_psa_text, read_open_psa
from coldbench.errors import InputError


@st.composite
def trees(draw, most_events=7):
    """A random tree with shared events, house events and every kind of gate."""
    events = {f"e{i}": draw(st.floats(0.001, 0.9)) for i in range(draw(st.integers(1, most_events)))}
    house = {f"h{i}": draw(st.booleans()) for i in range(draw(st.integers(0, 2)))}
    gates, names = {}, [*events, *house]
    for i in range(draw(st.integers(1, 6))):
        inputs = tuple(draw(st.lists(st.sampled_from(names), min_size=1, max_size=4, unique=True)))
        kind = draw(st.sampled_from(("and", "or", "atleast")))
        k = draw(st.integers(1, len(inputs))) if kind == "atleast" else None
        gates[f"g{i}"] = Gate(kind, inputs, k)
        names.append(f"g{i}")
    return Tree(f"g{len(gates) - 1}", gates, events, house)


def happens(tree, happening):
    """Evaluate a tree plainly: the top event for a set of events that happen."""
    state = {**dict.fromkeys(tree.events, False), **tree.house, **dict.fromkeys(happening, True)}

    def value(name):
        gate = tree.gates.get(name)
        if gate is None:
            return state[name]
        return sum(map(value, gate.inputs)) >= gate.needed

    return value(tree.top)


def subsets(names):
    return [set(s) for n in range(len(names) + 1) for s in itertools.combinations(names, n)]


def weight(tree, happening):
    return math.prod(p if name in happening else 1 - p for name, p in tree.events.items())


@settings(max_examples=120)
@given(trees())
def test_probability_equals_full_enumeration(tree):
    exact = math.fsum(weight(tree, s) for s in subsets(tree.events) if happens(tree, s))
    found = analyse(tree)
    assert found.top_probability == pytest.approx(exact, rel=1e-12, abs=1e-15)
    assert found.rare_event_bound >= found.top_probability * (1 - 1e-12)


@settings(max_examples=120)
@given(trees())
def test_cut_sets_are_the_minimal_ones(tree):
    cuts = [s for s in subsets(tree.events) if happens(tree, s)]
    least = {frozenset(s) for s in cuts if not any(other < s for other in cuts)}
    found = analyse(tree)
    assert {frozenset(s) for s in found.minimal_cut_sets} == least
    assert found.minimal_cut_set_count == len(least) == len(found.minimal_cut_sets)
    assert [len(s) for s in found.minimal_cut_sets] == sorted(map(len, least))


def test_a_rare_other_way_to_the_top_event_is_not_lost_to_rounding():
    """Without a the top event needs three events of 1e-6 each: 1e-18, so RRW is 0.5/1e-18."""
    rare = dict.fromkeys("bcd", 1e-6)
    tree = Tree("t", {"t": Gate("or", ("a", "g")), "g": Gate("and", tuple(rare))},
                {"a": 0.5, **rare})
    found = analyse(tree)
    assert found.importance["a"].rrw == pytest.approx(found.top_probability / 1e-18, rel=1e-9)
    assert found.importance["b"].rrw == pytest.approx(1.0)


def test_events_matter_not_where_the_top_event_is_certain():
    tree = Tree("t", {"t": Gate("or", ("a", "h"))}, {"a": 0.5}, {"h": True})
    assert analyse(tree).top_probability == 1.0
    one = analyse(tree).importance["a"]
    assert (one.birnbaum, one.criticality, one.fussell_vesely, one.raw, one.rrw) == (0, 0, 0, 1, 1)


def test_rows_of_a_huge_choice_are_refused_before_they_are_made():
    events = {f"e{i}": 0.1 for i in range(60)}
    with pytest.raises(InputError, match="beyond 2000 rows"):
        mocus(Tree("t", {"t": Gate("atleast", tuple(events), 30)}, events))


@settings(max_examples=80)
@given(trees())
def test_rows_end_at_the_same_cut_sets(tree):
    assert {frozenset(row) for row in mocus(tree)[-1]} == {
        frozenset(s) for s in analyse(tree).minimal_cut_sets}


@settings(max_examples=60)
@given(trees(most_events=5))
def test_importance_by_its_definitions(tree):
    found = analyse(tree)
    sets = [set(s) for s in found.minimal_cut_sets]
    assert set(found.importance) == (set(tree.used_events) if sets else set())
    for name, one in found.importance.items():
        p = tree.events[name]
        with_it = analyse(Tree(tree.top, tree.gates, {**tree.events, name: 1.0}, tree.house))
        without = analyse(Tree(tree.top, tree.gates, {**tree.events, name: 0.0}, tree.house))
        top, high, low = (a.top_probability for a in (found, with_it, without))
        union = math.fsum(weight(tree, s) for s in subsets(tree.events)
                          if any(name in c and c <= s for c in sets))
        assert one.birnbaum == pytest.approx(high - low, rel=1e-9, abs=1e-12)
        assert one.criticality == pytest.approx((high - low) * p / top, rel=1e-9, abs=1e-12)
        assert one.fussell_vesely == pytest.approx(union / top, rel=1e-9, abs=1e-12)
        assert one.raw == pytest.approx(high / top, rel=1e-9)
        assert (math.isinf(one.rrw) if low == 0 else
                one.rrw == pytest.approx(top / low, rel=1e-6))


@settings(max_examples=80)
@given(trees())
def test_an_independent_diagram_library_agrees(tree):
    """`dd` (an independent library of decision diagrams) gives the same function and count."""
    from dd.autoref import BDD

    other = BDD()
    names = list(tree.used_events)
    if not names:
        return
    other.declare(*names)

    def formula(name):
        if name in tree.house:
            return "TRUE" if tree.house[name] else "FALSE"
        if name not in tree.gates:
            return name
        gate = tree.gates[name]
        chosen = itertools.combinations(map(formula, gate.inputs), gate.needed)
        return "(" + " | ".join("(" + " & ".join(c) + ")" for c in chosen) + ")"

    theirs = other.add_expr(formula(tree.top))
    diagram, (ours,) = diagram_of(tree)
    half = diagram.probability(ours, dict.fromkeys(names, 0.5))[ours]
    assert half * 2 ** len(names) == other.count(theirs, nvars=len(names))
    for happening in itertools.islice(other.pick_iter(theirs, care_vars=names), 20):
        assert happens(tree, {name for name, value in happening.items() if value})


@settings(max_examples=80)
@given(trees(most_events=5), trees(most_events=5))
def test_comparison_finds_a_true_example_with_the_fewest_events(one, other):
    names = sorted({*one.events, *other.events})
    one, other = (Tree(t.top, t.gates, {n: t.events.get(n, 0.1) for n in names}, t.house)
                  for t in (one, other))
    differing = [s for s in subsets(names) if happens(one, s) != happens(other, s)]
    found = compare(one, other)
    assert (found is None) == (not differing)
    if found:
        assert set(found.happening) in differing
        assert len(found.happening) == min(map(len, differing))
        assert found.first_says_top == happens(one, set(found.happening))


@settings(max_examples=60)
@given(trees())
def test_files_give_the_tree_back(tmp_path_factory, tree):
    folder = tmp_path_factory.mktemp("trees")
    for name in ("tree.json", "tree.xml"):
        write_tree(tree, folder / name)
        again = read_tree(folder / name)
        # unused gates and events make no top of their own in Open-PSA: compare what is under it
        assert compare(tree, again) is None and again.probabilities() == tree.probabilities()


def test_shorter_ways_to_write_the_same_tree_are_equivalent():
    events = {"a": 0.1, "b": 0.1, "c": 0.1}
    spread_out = tree_from({"top": "t", "event": events, "gate": {
        "t": {"kind": "or", "inputs": ["x", "y"]}, "x": {"kind": "and", "inputs": ["a", "b"]},
        "y": {"kind": "and", "inputs": ["a", "c"]}}})
    factored = tree_from({"top": "t", "event": events, "gate": {
        "t": {"kind": "and", "inputs": ["a", "z"]}, "z": {"kind": "or", "inputs": ["b", "c"]}}})
    assert compare(spread_out, factored) is None


def test_common_cause_weakens_redundancy():
    tree = tree_from({"top": "t", "gate": {"t": {"kind": "and", "inputs": ["a", "b"]}},
                      "event": {"a": 0.01, "b": 0.01}})
    levels = [analyse(with_common_cause(tree, ["a", "b"], beta)).top_probability
              for beta in (0.0, 0.05, 0.1, 1.0)]
    assert levels == sorted(levels)
    assert levels[0] == pytest.approx(1e-4) and levels[-1] == pytest.approx(0.01)
    # by hand: P = β·p + (1 − β·p)·((1 − β)·p)²
    assert levels[2] == pytest.approx(1e-3 + (1 - 1e-3) * 0.009 ** 2, rel=1e-12)


def test_spread_is_repeatable_and_matches_a_closed_form():
    tree = tree_from({"top": "t", "gate": {"t": {"kind": "and", "inputs": ["a", "b"]}},
                      "event": {"a": 1e-3, "b": 1e-3}})
    once, again, other = spread(tree), spread(tree), spread(tree, seed=2)
    assert once == again and once != other
    # the product of two log-normals is log-normal: median p², error factor EF^√2
    assert once.median == pytest.approx(1e-6, rel=0.05)
    assert once.percentile_95 == pytest.approx(1e-6 * 3 ** math.sqrt(2), rel=0.06)
    assert once.percentile_5 < once.median < once.mean < once.percentile_95


def change(**parts):
    good = {"top": "t", "gate": {"t": {"kind": "or", "inputs": ["a", "b"]}},
            "event": {"a": 0.1, "b": 0.2}}
    return good | parts


@pytest.mark.parametrize(("data", "words"), [
    (change(gate={"t": {"kind": "or", "inputs": ["u"]}, "u": {"kind": "or", "inputs": ["t"]}}),
     "gate 't' leads back to itself: t → u → t"),
    (change(gate={"t": {"kind": "or", "inputs": []}}), "gate 't': has no inputs"),
    (change(event={"a": 0.1, "b": 0.1, "t": 0.1}), "'t' is used for a gate and for a event"),
    (change(event={"a": 1.5, "b": 0.1}), "probability of event 'a' is 1.5; accepted: 0 to 1"),
    (change(event={"a": float("nan"), "b": 0.1}), "event 'a' is nan"),
    (change(event={"a": True, "b": 0.1}), "event 'a' is True"),
    (change(event={"a": 0.1}), "input 'b' is neither a gate nor an event"),
    (change(top="q"), "top 'q' is not a gate"),
    (change(gate={"t": {"kind": "xor", "inputs": ["a"]}}), "kind 'xor' is not one of"),
    (change(gate={"t": {"kind": "atleast", "k": 3, "inputs": ["a", "b"]}}), "k is 3; accepted: 1"),
    (change(gate={"t": {"kind": "atleast", "inputs": ["a", "b"]}}), "k must be a whole number"),
    (change(gate={"t": {"kind": "or", "k": 1, "inputs": ["a", "b"]}}), "atleast gates only"),
    (change(gate={"t": {"kind": "or", "inputs": ["a", "a"]}}), "'a' stands twice"),
    (change(house={"a": True}), "'a' is used for a event and for a house event"),
    (change(house={"h": 1}), "must be true or false"),
    (change(note=1), "'note' is unknown"),
    (change(gate=[1]), "gate must be a table"),
    ([], "a fault tree is a table"),
])
def test_bad_trees_are_refused_in_one_sentence(tmp_path, capsys, data, words):
    path = tmp_path / "tree.json"
    path.write_text(json.dumps(data))
    with pytest.raises(InputError, match=words) as refused:
        read_tree(path)
    assert str(refused.value).startswith("tree.json: ")
    with pytest.raises(SystemExit) as left:
        main(["tree", str(path)])
    assert left.value.code == 2 and len(capsys.readouterr().err.strip().splitlines()) == 1


@pytest.mark.parametrize(("text", "words"), [
    ("<opsa-mef>", "not well-formed"),
    ('<!DOCTYPE x [<!ENTITY a "b">]><opsa-mef/>', "holds a document type"),
    ("<tree/>", "starts with <tree>"),
    ("<opsa-mef><define-fault-tree name='f'><define-gate name='g'><xor/></define-gate>"
     "</define-fault-tree></opsa-mef>", "<xor> is not read"),
    ("<opsa-mef><define-fault-tree name='f'><define-gate name='g'><or><not/></or></define-gate>"
     "</define-fault-tree></opsa-mef>", "<not> is not read"),
    ("<opsa-mef><define-CCF-group/></opsa-mef>", "<define-CCF-group> is not read"),
    ("<opsa-mef><model-data><define-basic-event name='e'><exponential/></define-basic-event>"
     "</model-data></opsa-mef>", "<exponential> is not read"),
    ("<opsa-mef/>", "has 0 gates"),
    *((f"<opsa-mef><define-fault-tree name='f'><define-gate name='g'><atleast min='{k}'>"
       "<event name='e'/></atleast></define-gate></define-fault-tree></opsa-mef>",
       "needs min, a whole number") for k in ("²", "9" * 5000)),
    ("<opsa-mef><define-fault-tree name='f'><define-gate name='g'>" + "<or>" * 3000
     + "<event name='e'/>" + "</or>" * 3000 + "</define-gate></define-fault-tree></opsa-mef>",
     "nested too deep"),
    ("<opsa-mef>" + "<define-component name='c'>" * 3000 + "</define-component>" * 3000
     + "</opsa-mef>", "nested too deep"),
])
def test_exchange_files_that_cannot_be_read_say_why(text, words):
    with pytest.raises(InputError, match=words):
        read_open_psa(text, "model.xml")


def test_a_nested_gate_takes_no_name_that_the_file_gives_to_another():
    tree = read_open_psa("""<opsa-mef><define-fault-tree name="f">
      <define-gate name="top/1"><and><basic-event name="a"/><basic-event name="b"/></and>
      </define-gate><define-gate name="top"><or><and><basic-event name="c"/>
      <basic-event name="d"/></and><gate name="top/1"/></or></define-gate>
      </define-fault-tree></opsa-mef>""")
    assert {frozenset(one) for one in analyse(tree).minimal_cut_sets} == {
        frozenset("ab"), frozenset("cd")}


def test_exchange_format_keeps_nested_and_voting_gates():
    tree = read_open_psa("""<opsa-mef><define-fault-tree name="vote"><define-gate name="top">
      <label>two of three</label><atleast min="2"><basic-event name="a"/><event name="b"/>
      <or><basic-event name="c"/><house-event name="h"/></or></atleast></define-gate>
      </define-fault-tree><model-data>
      <define-house-event name="h"><constant value="false"/></define-house-event>
      <define-basic-event name="a"><float value="0.1"/></define-basic-event>
      <define-basic-event name="b"><float value="0.2"/></define-basic-event>
      <define-basic-event name="c"><float value="0.3"/></define-basic-event>
      </model-data></opsa-mef>""")
    found = analyse(tree)
    assert set(map(frozenset, found.minimal_cut_sets)) == {
        frozenset("ab"), frozenset("ac"), frozenset("bc")}
    assert found.top_probability == pytest.approx(0.1 * 0.2 + 0.1 * 0.3 + 0.2 * 0.3
                                                  - 2 * 0.1 * 0.2 * 0.3)
    assert compare(tree, read_open_psa(open_psa_text(tree))) is None


def run(capsys, *words):
    with pytest.raises(SystemExit) as left:
        main(list(words))
    assert left.value.code == 0
    return capsys.readouterr().out


def test_command_prints_the_promised_keys(capsys):
    found = json.loads(run(capsys, "tree", "pressure-tank", "--json"))
    assert {"top_probability", "rare_event_bound", "minimal_cut_set_count", "minimal_cut_sets",
            "importance"} <= set(found)
    assert found["minimal_cut_sets"][0] == ["T"]
    told = run(capsys, "tree", "pressure-tank")
    assert "Minimal cut sets: 5" in told and "Birnbaum: P(top" in told
    assert "S · S1" in run(capsys, "tree", "pressure-tank", "--rows")
    grown = json.loads(run(capsys, "tree", "pressure-tank", "--rows", "--json"))["steps"]
    assert ["S", "S1"] in grown[-1]
    with pytest.raises(SystemExit):
        main(["tree", "--bench", "quay", "--symptom", "does not get warm", "--rows"])
    assert "--rows goes with a tree's file" in capsys.readouterr().err


def test_unknown_probabilities_leave_the_logic(capsys, tmp_path):
    path = tmp_path / "tree.json"
    path.write_text(json.dumps(change(event={"a": "unknown", "b": 0.1})))
    found = json.loads(run(capsys, "tree", str(path), "--json"))
    assert found["top_probability"] is None and found["minimal_cut_set_count"] == 2
    with pytest.raises(InputError, match="event 'a' has no probability"):
        spread(read_tree(path))
