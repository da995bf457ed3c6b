"""Fault trees as answers: any way of writing, marked by what they say, hostile data refused."""

import itertools
import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coldbench.diagnosis.tree import analyse
from coldbench.errors import InputError
from coldbench.worksheet import Mistake
from coldbench.worksheet.kinds import fault_tree as kind
from coldbench.worksheet.kinds import question_from_table
from coldbench.worksheet.records import make_record, plain
from coldbench.worksheet.tree_data import MOST_GATES, plain_of, tree_of, tree_text

EVENTS = ["fuse blown", "fan 1 open", "fan 2 open", "sensor A", "sensor B", "sensor C"]
KEY = ["or", "fuse blown", ["and", "fan 1 open", "fan 2 open"],
       ["2 of", "sensor A", "sensor B", "sensor C"]]


def question(**row):
    return question_from_table({"id": "no air", "kind": "fault tree", **row},
                               lambda key, why: InputError(f"{key}: {why}"))


ANY, OFFERED, ROWS = question(), question(events=EVENTS), question(rows=True)


def marked(value, key=KEY, asked=ANY, **rules):
    return asked.mark(asked.read(plain(value)), key, **rules)


PAIR = [["fan 1 open", "fan 2 open"]]
PAIRS = [["sensor A", "sensor B"], ["sensor A", "sensor C"], ["sensor B", "sensor C"]]


@pytest.mark.parametrize("value", [
    KEY,
    tuple(KEY),
    ["OR", "Fuse blown", ["And", "fan-1 open", "fan 2 open"],
     ["at least 2 of 3", "sensor A", "sensor B", "sensor C"]],
    ["1 of", "fuse blown", ["2/2", "fan 1 open", "fan 2 open"],
     ["2 of 3", "sensor A", "sensor B", "sensor C"]],
    {"no air": ["or", "fuse blown", "both fans", "sensors"],
     "both fans": ["and", "fan 1 open", "fan 2 open"],
     "sensors": ["at least 2", "sensor C", "sensor B", "sensor A"]},
    {"top": "no air", "gate": {
        "both": {"kind": "and", "inputs": ["fan 1 open", "fan 2 open"]},
        "no air": {"kind": "or", "inputs": ["fuse blown", "both", "sensors"]},
        "sensors": {"kind": "atleast", "k": 2,
                    "inputs": ["sensor A", "sensor B", "sensor C"]}}},
    [["fuse blown"], *PAIR, *PAIRS],
    ["or", "fuse blown", *(["and", *pair] for pair in PAIR + PAIRS)],
    ["or", "fuse blown", ["and", "fuse blown", "sensor A"], *KEY[2:]],  # says nothing new
])
@pytest.mark.parametrize("asked", [ANY, OFFERED], ids=["any causes", "causes offered"])
def test_every_way_of_writing_the_same_logic_is_right(value, asked):
    assert (marked(value, asked=asked).share, marked(value, asked=asked).reason) == (1, "Right.")


names = st.sampled_from("abcde")
written = st.recursive(names, lambda inner: st.tuples(
    st.sampled_from(["or", "and", "2 of"]), st.lists(inner, min_size=2, max_size=4, unique_by=str)
).map(lambda gate: [gate[0], *gate[1]]), max_leaves=9).filter(lambda t: isinstance(t, list))


def happens(tree, happening):
    if isinstance(tree, str):
        return tree in happening
    count = sum(happens(one, happening) for one in tree[1:])
    return count >= {"or": 1, "and": len(tree) - 1, "2 of": 2}[tree[0]]


def minimal_sets(tree):
    """By full enumeration."""
    sets = [set(s) for n in range(6) for s in itertools.combinations("abcde", n)
            if happens(tree, s)]
    return {frozenset(s) for s in sets if not any(other < s for other in sets)}


@settings(max_examples=150, deadline=None)
@given(one=written, other=written)
def test_the_share_is_that_of_the_minimal_cut_sets(one, other):
    mark = marked(one, other)
    own, key = minimal_sets(one), minimal_sets(other)
    right, false = len(own & key), len(own - key)
    if own == key:
        assert mark.share == 1
    else:
        assert mark.share == pytest.approx(min(0.99, max(0, (right - false) / len(key))))
        assert ("Example: when" in mark.reason) <= bool(own - key)
        assert (f"Missing: {len(key - own)} (" in mark.reason) == bool(key - own)


@settings(max_examples=60, deadline=None)
@given(tree=written)
def test_a_tree_survives_being_written_out(tree):
    assert marked(plain_of(tree_of(tree)), tree).share == 1
    assert tree_text(tree_of(tree))


@pytest.mark.parametrize(("value", "name", "share"), [
    (["or", "fuse blown", ["or", "fan 1 open", "fan 2 open"], KEY[3]], kind.ONE_SWAPPED, 0.4),
    (["and", "fuse blown", ["or", "fan 1 open", "fan 2 open"], KEY[3]], kind.ALL_SWAPPED, 0),
    (["or", *KEY[1:3], ["and", "sensor A", "sensor B", "sensor C"]], kind.MISCOUNTED, 0.2),
    (["or", *KEY[2:]], kind.LEFT_OUT, 0.8),
    (["or", "belt torn", *KEY[1:]], kind.FOREIGN, 0.8),
    (["or", "fuse blown", "sensor A"], "", 0.0),
])
def test_the_usual_mistakes_are_named_and_keep_their_share(value, name, share):
    mark = marked(value)
    assert (mark.mistake, mark.share) == (name, pytest.approx(share))
    assert (f"Likely mistake: {name}." in mark.reason) == bool(name)


def test_false_and_missing_sets_and_an_example_are_told():
    mark = marked(["or", "fuse blown", "fan 1 open", KEY[3]])
    assert mark.reason == (
        "4 of 5 minimal cut sets right. False: “fan 1 open”. Missing: 1 (1 of two causes). "
        "Example: when only “fan 1 open” happens, the top event does not occur; your tree "
        "says it does.")
    assert mark.status == "partly" and mark.share == pytest.approx(0.6)
    assert mark.key.endswith(". Missing: “fan 1 open” with “fan 2 open”")


def test_a_reason_counts_missing_sets_and_names_none():
    """The reason is read before the key may be: which sets are missing stands with the key."""
    mark = marked(["or", "fan 1 open"], ["or", "fan 1 open", "belt torn", ["and", "a", "b"]])
    assert mark.reason == ("1 of 3 minimal cut sets right. Missing: 2 (1 of one cause, 1 of two "
                           "causes).")
    assert "belt torn" in mark.key and "“a” with “b”" in mark.key


def test_a_bench_says_what_it_shows_of_false_sets():
    asked = []

    def bench(causes):
        asked.append(causes)
        return f"{causes[0]}: fan flow 57 %."

    key, wrong = ["or", "a", ["and", "b", "c"]], ["or", "a", "b"]
    mark = marked(wrong, key, bench=bench)
    assert asked == [("b",)] and "At the bench: b: fan flow 57 %." in mark.reason
    named = marked(wrong, key, mistakes={"b alone": Mistake(wrong, 0.5, "Try b.")}, bench=bench)
    assert named.reason == "Likely mistake: b alone. Try b. At the bench: b: fan flow 57 %."
    assert marked(key, key, bench=bench).reason == "Right." and len(asked) == 2


def test_a_lab_names_its_own_mistakes_first():
    wrong = ["or", "fan 1 open", "fan 2 open"]
    mark = marked(["1 of", "fan 2 open", "fan 1 open"], ["and", "fan 1 open", "fan 2 open"],
                  mistakes={"took the fans for series": Mistake(wrong, 0.25, "Look at K2.")})
    assert (mark.mistake, mark.share) == ("took the fans for series", 0.25)


def test_rows_must_be_minimal():
    key = [["a"], ["b", "c"]]
    assert marked([["c", "b"], ["a"]], key, ROWS).share == 1
    mark = marked([["a"], ["b", "c"], ["a", "b"]], key, ROWS)
    assert (mark.mistake, mark.share) == (kind.NOT_MINIMAL, 0.5)
    assert marked([["a"], ["a"], ["b", "c"]], key, ROWS).mistake == kind.NOT_MINIMAL
    with pytest.raises(InputError, match="is not a list of rows"):
        ROWS.read(["or", "a", "b"])


@pytest.mark.parametrize(("value", "words"), [
    ("fuse blown", "is not a fault tree"),
    ('["or", "fuse blown"]', "leave out the quotation marks around it"),
    (7, "is not a fault tree"),
    ([], "not with an empty list"),
    (["fuse blown", "fan 1 open"], "a gate begins with"),
    (["or"], "a gate has no inputs"),
    (["or", []], "not with an empty list"),
    (["or", 5], "5 is neither a cause nor a gate"),
    (["or", None], "is neither a cause nor a gate"),
    (["or", "a", "a"], "stands twice"),
    (["3 of", "a", "b"], "between 1 and 2"),
    (["2 of 4", "a", "b", "c"], "has 3 inputs; it needs 4"),
    (["0 of", "a"], "between 1 and 1"),
    (["or", "x" * 81], "longer than 80"),
    ({}, "holds no gate"),
    ({"t": "or"}, "must be a list"),
    ({"t": ["or", "g"], "g": ["and", "t", "a"]}, "leads back to itself"),
    ({"t": ["or", "a"], "g": ["and", "b", "c"]}, "hangs under no other gate"),
    ({"t": ["or", "a"], "T": ["and", "b"]}, "two gates are named"),
    ({"t": ["or", "a", ["and", "b", "c"]], "t.2": ["or", "d"]}, "two gates are named"),
    ({"gate": {"t": {"kind": "xor", "inputs": ["a"]}}}, "needs kind"),
])
def test_what_is_no_tree_gets_one_sentence(value, words):
    with pytest.raises(InputError, match=words) as refused:
        ANY.read(plain(value))
    assert "\n" not in str(refused.value)


def test_a_cause_that_is_not_offered_is_refused_with_those_that_are():
    with pytest.raises(InputError, match="'belt torn' is not one of the causes: fuse blown; fan"):
        OFFERED.read(["or", "belt torn"])


def test_a_gate_with_one_input_is_doubted():
    assert "only input" in ANY.read(["or", "a", ["and", "b"]]).doubt
    assert not ANY.read(KEY).doubt and not ANY.read([["a"], ["b", "c"]]).doubt


def deep(levels):
    tree = "a"
    for _ in range(levels):
        tree = ["or", tree, "b"]
    return tree


@pytest.mark.parametrize("value", [
    deep(2_000), ["or", *(["and", "a", "b"] for _ in range(MOST_GATES))],
    ["or", *(f"e{i}" for i in range(41))], {f"g{i}": ["or", "a"] for i in range(100)},
    [[f"e{i}"] for i in range(100)],
], ids=["deep", "many gates", "many causes", "long table", "many rows"])
def test_too_much_is_refused_at_once(value):
    started = time.process_time()
    with pytest.raises(InputError):
        ANY.read(value)
    assert time.process_time() - started < 2


def test_a_tree_made_to_be_hard_costs_little_and_earns_nothing():
    pairs = [["and", f"x{i}", f"y{i}"] for i in range(20)]
    layers = {"t": ["or", *(f"x{i}" for i in range(20)), "g0"]}
    layers |= {f"g{i}": [f"{9 + i} of", *(f"{'xy'[i % 2]}{j}" for j in range(20)), f"g{i + 1}"]
               for i in range(6)}
    layers["g6"] = ["or", *(f"y{i}" for i in range(20))]
    started = time.process_time()
    for value in (["20 of", *(f"x{i}" for i in range(20)), *(f"y{i}" for i in range(20))],
                  ["and", ["or", *(f"x{i}" for i in range(20))],
                   ["or", *(f"y{i}" for i in range(20))], *pairs], layers):
        assert marked(value).share == 0
    assert time.process_time() - started < 30


def test_an_answer_travels_as_a_record():
    record = make_record("no air", KEY, None)
    assert ANY.mark(ANY.read(record["value"]), KEY).share == 1
    assert analyse(ANY.read(record["value"]).value).minimal_cut_set_count == 5


@pytest.mark.parametrize(("row", "words"), [
    ({"events": ["a", "a"]}, "must be two or more different texts"),
    ({"events": "a"}, "must be a list of texts"),
    ({"rows": "yes"}, "must be true or false"),
    ({"k": 2}, "unknown"),
])
def test_a_wrong_table_is_refused(row, words):
    with pytest.raises(InputError, match=words):
        question(**row)


def test_a_key_outside_the_causes_offered_is_the_labs_error():
    with pytest.raises(InputError, match="not one of the causes"):
        marked(["or", "fuse blown"], ["or", "belt torn"], OFFERED)
