"""Panels for diagnosis: a fault tree built step by step, and suspects struck out by readings."""

import json
from types import SimpleNamespace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coldbench.errors import InputError
from coldbench.panels import SuspectPanel, TreePanel
from coldbench.panels.tree_draft import MOST_BOXES, draft_of
from coldbench.worksheet import Entry
from coldbench.worksheet.tree_data import plain_of, tree_of

EVENTS = ["fuse blown", "fan 1 open", "fan 2 open"]
TREE = ["or", "fuse blown", ["and", "fan 1 open", "fan 2 open"]]


def press(panel, name, **more):
    panel.set(**more, **{name: panel.settings[name] + 1})


def built():
    panel = TreePanel(EVENTS, top="no condenser air")
    press(panel, "put")
    press(panel, "branch")
    press(panel, "put", cause="fan 1 open")
    press(panel, "put", cause="fan 2 open")
    return panel


def test_a_tree_grows_under_the_selected_gate():
    panel = built()
    assert panel.tree == TREE
    assert panel.readings() == {"tree": json.dumps(TREE), "minimal_cut_sets": 2,
                                "selected": "gate 3 (AND)"}
    assert "2 minimal cut sets" in panel.html() and "fan 1 open + fan 2 open" in panel.html()


def test_the_picture_is_told_in_words():
    html = built().html()
    assert ("“no condenser air” happens when at least one of these happens (OR gate): “fuse "
            "blown”, “gate 3”.") in html
    assert "“gate 3” happens when all of these happen together" in html


def test_gates_change_their_kind():
    panel = built()
    panel.set(gate="atleast", needed="1")
    assert panel.tree[2] == ["1 of", "fan 1 open", "fan 2 open"]
    panel.set(selected="1", gate="and")
    assert panel.tree[0] == "and" and panel.settings["selected"] == "1"
    panel.set(selected="3")
    assert panel.settings["gate"] == "atleast" and panel.settings["needed"] == "1"


def test_selecting_a_gate_does_not_change_it():
    panel = built()
    for box in ("1", "3", "2", "1"):
        panel.set(selected=box)
    assert panel.tree == TREE


def test_a_cause_is_put_beside_a_selected_cause():
    panel = built()
    panel.set(selected="4")
    press(panel, "put", cause="fuse blown")
    assert panel.tree[2] == ["and", "fan 1 open", "fan 2 open", "fuse blown"]


def test_taking_away_and_undoing():
    panel = built()
    press(panel, "remove")
    assert panel.tree == ["or", "fuse blown"] and panel.settings["selected"] == "1"
    press(panel, "undo")
    assert panel.tree == TREE
    for _ in range(9):
        press(panel, "undo")
    assert panel.tree == ["or"]
    press(panel, "remove")
    assert panel.tree == ["or"]


def test_voting_follows_when_inputs_are_taken_away():
    panel = TreePanel(EVENTS, tree=["3 of", *EVENTS])
    panel.set(selected="4")
    press(panel, "remove")
    assert panel.tree == ["2 of", "fuse blown", "fan 1 open"]


def test_an_empty_gate_is_named_and_counts_nothing():
    panel = TreePanel(EVENTS)
    assert "Not complete" in panel.html() and panel.readings()["minimal_cut_sets"] is None
    press(panel, "branch")
    assert "Gate 2 has nothing under it." in panel.html()


def test_what_is_refused_changes_nothing():
    panel = built()
    with pytest.raises(InputError, match="stands under this gate already"):
        press(panel, "put", cause="fan 1 open")
    with pytest.raises(InputError):
        panel.set(selected="99")
    with pytest.raises(InputError, match="'belt torn' is not one of the causes"):
        panel.build(["or", "belt torn"])
    assert panel.tree == TREE
    panel.set(cause="fuse blown")
    assert panel.tree == TREE


def test_a_page_that_sends_a_refused_step_gets_a_sentence():
    panel = built()
    panel._request = {"page": "p", "number": 1, "changes": {
        "put": {"value": panel.settings["put"] + 1}}}
    assert "stands under this gate already" in panel._frame["message"]
    assert panel.tree == TREE


def test_the_tree_is_full_at_some_point():
    panel = TreePanel([f"cause {i}" for i in range(MOST_BOXES + 1)])
    with pytest.raises(InputError, match="the tree is full"):
        for i in range(MOST_BOXES + 1):
            press(panel, "put", cause=f"cause {i}")
    assert len(panel.tree) == MOST_BOXES


@pytest.mark.parametrize("bad", [{"events": []}, {"events": EVENTS, "tree": "or"},
                                 {"events": EVENTS, "gate": "xor"}])
def test_a_panel_is_not_made_of_nonsense(bad):
    with pytest.raises(InputError):
        TreePanel(**bad)


names = st.sampled_from("abcde")
written = st.recursive(names, lambda inner: st.tuples(
    st.sampled_from(["or", "and", "1 of"]), st.lists(inner, min_size=1, max_size=4, unique_by=str)
).map(lambda gate: [gate[0], *gate[1]]), max_leaves=9).filter(lambda t: isinstance(t, list))


@settings(max_examples=60, deadline=None)
@given(tree=written)
def test_a_draft_gives_back_the_tree_it_was_made_of(tree):
    assert draft_of(tree).plain() == plain_of(tree_of(tree))


# ---- suspects

JOURNAL = SimpleNamespace(entries=(
    Entry(3, "", "voltmeter", {"red": "K1.30", "black": "K1.87"}, {"state": "low"}, 0.02, "V",
          0.01),))
PRIOR = {"fuse blown": 0.1, "relay 1 coil open": 0.3, "fan 1 open": 0.6}


def test_suspects_are_struck_out_by_a_reading_and_brought_back():
    panel = SuspectPanel(PRIOR, journal=JOURNAL)
    panel.strike("fan 1 open", 3)
    panel.strike("fuse blown")
    assert panel.left == ("relay 1 coil open",)
    assert panel.struck == {"fan 1 open": 3, "fuse blown": 0}
    assert panel.readings() == {"left": 1, "suspects_left": "relay 1 coil open"}
    html = panel.html()
    assert "entry 3: voltmeter K1.30, K1.87 (low), 0.02 V ± 0.01 V" in html
    assert "fan 1 open: struck out by entry 3." in html and "relay 1 coil open: still" in html
    panel.restore("fan 1 open")
    assert panel.left == ("relay 1 coil open", "fan 1 open")


def test_shares_are_of_what_is_left():
    panel = SuspectPanel(PRIOR)
    panel.strike("fan 1 open")
    assert "relay 1 coil open: still possible, 75 %." in panel.html()
    assert "%" not in SuspectPanel(list(PRIOR)).pictures(SuspectPanel(list(PRIOR))._state)[0].svg()


def test_none_left_is_a_warning():
    panel = SuspectPanel(["fuse blown"])
    panel.strike("fuse blown")
    assert "trusted too far" in panel.html()


def test_new_readings_of_the_journal_are_found():
    journal = SimpleNamespace(entries=())
    panel = SuspectPanel(["fuse blown"], journal=journal)
    journal.entries = JOURNAL.entries
    panel.strike("fuse blown", 3)
    assert panel.struck == {"fuse blown": 3}


@pytest.mark.parametrize("call", [
    lambda: SuspectPanel([]), lambda: SuspectPanel({"a": 1.5}), lambda: SuspectPanel({"a": True}),
    lambda: SuspectPanel([f"s{i}" for i in range(61)]),
    lambda: SuspectPanel(["a"], struck={"b": 1}), lambda: SuspectPanel(["a"]).strike("b"),
    lambda: SuspectPanel(["a"]).strike("a", 9),
])
def test_nonsense_is_refused_in_a_sentence(call):
    with pytest.raises(InputError):
        call()
