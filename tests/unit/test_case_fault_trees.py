"""Cases of the lab on fault trees: solvable, clear, no two neighbours alike, trees true.

The keys come from the lab's own hidden checks. The trees of the three-relay bench are found a
second time, by solving the circuit with every set of up to three suspects failed. The tree of the
whole bench is held against the simulated sets, and some of these against the bench anew.
"""

import contextlib
import io
import itertools
import json
import runpy
from functools import cache
from pathlib import Path

import jupytext
import pytest

from coldbench.bench import load_bench
from coldbench.diagnosis.from_bench import shown_table
from coldbench.diagnosis.tree import analyse, compare
from coldbench.electrical import load_circuit, parse_fault, solve
from coldbench.worksheet import MarkingDesk, Worksheet, draw_case, read_manifest
from coldbench.worksheet.desk import open_desk
from coldbench.worksheet.kinds.base import as_mistake
from coldbench.worksheet.tolerance import tolerance_si
from coldbench.worksheet.tree_data import tree_of

LAB = "fault-trees"
FOLDER = Path(__file__).parents[2] / "source" / LAB
COURSES = ("marsh-lane-2026-autumn", "marsh-lane-2027-spring", "practice")
LEARNERS = tuple(f"ml-{number:02d}" for number in range(1, 61))
EVERYBODY = [(course, learner) for course in COURSES for learner in LEARNERS]
FAULTS = {
    "battery cable open": "W1:open", "fuse F4 blown": "F4:blown", "fuse F1 blown": "F1:blown",
    "fuse F2 blown": "F2:blown", "fuse F3 blown": "F3:blown",
    "relay 1 coil open": "K1:coil_open", "relay 1 contact stays open": "K1:contacts_open",
    "relay 2 coil open": "K2:coil_open", "relay 2 rest contact open": "K2:break_contact_open",
    "relay 2 work contact open": "K2:contacts_open", "relay 3 coil open": "K3:coil_open",
    "relay 3 contact stays open": "K3:contacts_open", "low request missing": "D1:stuck_off",
    "high request missing": "D2:stuck_off", "fan 1 open": "M1:open", "fan 2 open": "M2:open",
    "fan ground open": "W16:open",
}


@cache
def case_of(course: str, learner: str):
    return draw_case(FOLDER, LAB, course, learner)


@cache
def check_cells() -> tuple:
    """Set-up and check cells, with their hidden parts."""
    cells = jupytext.read(FOLDER / f"{LAB}.md", fmt="md:myst").cells
    return tuple(
        compile(cell.source, cell.metadata["nbgrader"]["grade_id"], "exec")
        for cell in cells if cell.cell_type == "code"
        and (cell.metadata["nbgrader"]["grade"]
             or cell.metadata.get("coldbench", {}).get("role") == "setup"))


@cache
def rules_of(course: str, learner: str) -> dict:
    """What the hidden checks of one learner say: question → (key, mistakes, within)."""
    rules = {}

    def note(self, name, key, mistakes=None, weight=1.0, **more):
        rules[name] = (key, mistakes or {}, more.get("within", "1 %"))

    with pytest.MonkeyPatch.context() as patch, contextlib.redirect_stdout(io.StringIO()):
        patch.setattr(Worksheet, "mark", note)
        with open_desk(MarkingDesk(learner, FOLDER, course, {})):
            namespace = {}
            for code in check_cells():
                exec(code, namespace)
    return rules


@pytest.fixture(scope="module", params=COURSES)
def course(request):
    return request.param


def numbers(question, value):
    """A key or mistake of a quantity or table, as {place: SI}."""
    if hasattr(question, "columns"):
        return {place: number for place, number in question._flat(value).items()}
    return {"": float(value)}


def test_no_named_mistake_lies_within_the_tolerance_of_the_key(course):
    manifest = read_manifest(FOLDER)
    close = []
    for learner in LEARNERS:
        for name, (key, mistakes, within) in rules_of(course, learner).items():
            question = manifest.question(name)
            if not (hasattr(question, "quantity") or type(question).__name__ == "TableQuestion"):
                continue
            keys = numbers(question, key)
            for label, given in mistakes.items():
                wrong = as_mistake(given)
                if wrong.value is None or wrong.share >= 1:
                    continue
                for place, value in numbers(question, wrong.value).items():
                    column = question.columns[place.rpartition("|")[2]] if place else question
                    band = tolerance_si(within, keys[place], column.quantity,
                                        column.shown_unit)
                    if abs(value - keys[place]) <= band:
                        close.append((learner, name, label, place))
    assert not close, close[:5]


def test_no_named_choice_or_order_or_tree_is_the_key(course):
    manifest = read_manifest(FOLDER)
    for learner in LEARNERS:
        for name, (key, mistakes, _) in rules_of(course, learner).items():
            question = manifest.question(name)
            kind = type(question).__name__
            for label, given in mistakes.items():
                wrong = as_mistake(given)
                if wrong.value is None or wrong.share >= 1:
                    continue
                if kind == "FaultTreeQuestion":
                    differ = compare(tree_of(key), tree_of(wrong.value)) is not None
                    assert differ or label == "joined the shared cause with others", (name, label)
                elif kind == "ChoiceQuestion" and name == "cases that stop the clutch":
                    assert wrong.value != key, (learner, label)


def test_the_orders_are_clear(course):
    """Quick rule and best plan begin elsewhere; the rule of chance per minute is needed."""
    for learner in LEARNERS:
        rules = rules_of(course, learner)
        assert rules["first point by the quick rule"][0] != rules["best first point"][0]
        quick, best = rules["minutes by the quick rule"][0], rules["minutes at best"][0]
        assert quick >= 1.049 * best
        key, mistakes, _ = rules["order of looking"]
        assert all(as_mistake(m).value != key for m in mistakes.values())
        own, mistakes, _ = rules["own order"]
        assert as_mistake(mistakes["went by chance alone"]).value not in (None, own)


def reckoned(chances, minutes, low=0, high=4):
    """Least expected minutes of a row, by trying every point, weighed by chance."""
    if high - low < 2:
        return 0.0
    return min(sum(chances[low:high]) * minutes[i] + reckoned(chances, minutes, low, i + 1)
               + reckoned(chances, minutes, i + 1, high) for i in range(low, high - 1))


def test_the_best_plan_is_found_by_hand_too(course):
    for learner in LEARNERS:
        case = case_of(course, learner)
        chances = [percent / 100 for percent in case.chain_percent]
        key = rules_of(course, learner)["minutes at best"][0]
        assert key == pytest.approx(60 * reckoned(chances, case.chain_minutes))
        assert sum(case.chain_percent) == sum(case.check_percent) == 100
        assert min(case.chain_percent) >= 10


def test_looking_costs_what_brute_force_finds(course):
    for learner in LEARNERS:
        case = case_of(course, learner)
        p, c = [percent / 100 for percent in case.check_percent], case.check_minutes
        costs = {order: sum(p[i] * sum(c[j] for j in order[:k + 1])
                            for k, i in enumerate(order))
                 for order in itertools.permutations(range(4))}
        best = min(costs, key=costs.get)
        rules = rules_of(course, learner)
        assert rules["order of looking"][0] == ["ABCD"[i] for i in best]
        assert rules["minutes of looking"][0] == pytest.approx(60 * costs[best])


def test_the_exact_chance_is_that_of_the_cut_sets(course):
    for learner in LEARNERS:
        case, rules = case_of(course, learner), rules_of(course, learner)
        tree = tree_of(rules["cut sets of the clutch"][0])
        pair, three = case.pair_causes, case.triple_causes
        chance = {case.single_cause: case.single_percent,
                  **dict(zip(pair, case.pair_percent, strict=True)),
                  **dict.fromkeys(three, case.triple_percent)}
        events = {name: percent / 100 for name, percent in chance.items()}
        found = analyse(type(tree)(tree.top, tree.gates, events))
        key = rules["chances"][0]
        assert key["top event"] == pytest.approx(found.top_probability)
        assert key["sum over cut sets"] == pytest.approx(found.rare_event_bound)
        weights = rules["importance"][0]
        for row, name in (("the one cause", case.single_cause), ("first of the two", pair[0]),
                          ("one of the three", three[0])):
            assert weights[row] == pytest.approx(found.importance[name].birnbaum)
        assert rules["risk reduction worth"][0] == pytest.approx(
            found.importance[case.single_cause].rrw)
        ranked = {"the one cause": case.single_cause, "the two": pair[0], "the three": three[0]}
        worth = {row: found.importance[name].criticality for row, name in ranked.items()}
        assert rules["matters most"][0] == max(worth, key=worth.get)
        assert sorted(worth.values())[-1] >= 1.1 * sorted(worth.values())[-2]


# ---- the trees against the circuit


@cache
def currents(state: str, failed: frozenset) -> tuple[float, float]:
    solution = solve(load_circuit("three-relay-fans"), state,
                     [parse_fault(FAULTS[name]) for name in sorted(failed)])
    return solution.currents["M1"], solution.currents["M2"]


def neither_turns_on_low(failed: frozenset) -> bool:
    return all(abs(amps) < 1.0 for amps in currents("low", failed))


def none_at_full_speed_on_high(failed: frozenset) -> bool:
    healthy = currents("high", frozenset())
    return all(amps < 0.9 * full for amps, full in
               zip(currents("high", failed), healthy, strict=True))


def says(tree, failed: frozenset) -> bool:
    if isinstance(tree, str):
        return tree in failed
    count = sum(says(one, failed) for one in tree[1:])
    return count >= (1 if tree[0] == "or" else len(tree) - 1)


@pytest.mark.parametrize(("question", "suspects", "happens"), [
    ("tree on low", "low_suspects", neither_turns_on_low),
    ("tree on high", "high_suspects", none_at_full_speed_on_high),
])
@pytest.mark.parametrize("learner", LEARNERS[:24])
def test_the_tree_says_what_the_circuit_does(question, suspects, happens, learner):
    case, (key, _, _) = case_of(COURSES[0], learner), rules_of(COURSES[0], learner)[question]
    names = getattr(case, suspects)
    for count in range(4):
        for failed in map(frozenset, itertools.combinations(names, count)):
            assert says(key, failed) == happens(failed), sorted(failed)


# ---- the tree of the whole bench against what was simulated, and that against the bench

SETS = json.loads((FOLDER / "__bench_sets__.json").read_text("utf-8"))
WHOLE = "tree at the bench"
ALL_AT_ONCE = 3


def air_with(names) -> float:
    """Air through the condenser as the file has it [%]."""
    places = sorted(list(SETS["faults"]).index(name) for name in names)
    return SETS["shown"][" ".join(map(str, places))]


@pytest.mark.parametrize("learner", LEARNERS[:24])
def test_the_tree_of_the_whole_bench_says_what_was_simulated(learner):
    case, (key, _, _) = case_of(COURSES[1], learner), rules_of(COURSES[1], learner)[WHOLE]
    for count in range(ALL_AT_ONCE + 1):
        for names in itertools.combinations(case.bench_suspects, count):
            assert says(key, frozenset(names)) == (air_with(names) < SETS["below"]), names


def test_the_tree_of_the_whole_bench_is_as_much_work_for_everybody(course):
    for learner in LEARNERS:
        case, key = case_of(course, learner), rules_of(course, learner)[WHOLE][0]
        sets = analyse(tree_of(key), 100).minimal_cut_sets
        assert sorted(map(len, sets)) == [1] + 11 * [2]
        assert len(set(case.bench_suspects)) == 9
        assert case.bench_faults == tuple(SETS["faults"][n] for n in case.bench_suspects)


def test_the_file_is_what_the_bench_shows():
    """A few of its sets, one and two and three at once, simulated anew."""
    bench = load_bench(SETS["bench"])
    when = bench.symptoms[SETS["symptom"]].when
    assert [(one.reading, one.comparison, one.value) for one in when] == [
        (SETS["reading"], "below", SETS["below"])]
    names, ids = list(SETS["faults"]), list(SETS["faults"].values())
    every = list(SETS["shown"])
    cases = {key: tuple(map(int, key.split())) for key in every[::len(every) // 24]}
    found = shown_table(bench, [SETS["state"]],
                        [tuple(ids[n] for n in places) for places in cases.values()], 1, False)
    for key, places in cases.items():
        row = found.row(SETS["state"], tuple(ids[n] for n in places))
        assert row[SETS["reading"]][0] == pytest.approx(SETS["shown"][key], abs=0.3), [
            names[n] for n in places]


def test_the_suspects_of_the_whole_bench_are_those_that_were_simulated():
    offered = read_manifest(FOLDER).question(WHOLE).events
    assert set(offered) == set(SETS["faults"])
    faults = runpy.run_path(str(FOLDER / "case.py"))["BENCH_FAULTS"]
    assert SETS["faults"] == faults


def marked_at_bench(answer, learner=LEARNERS[0]):
    """The mark of a tree of the whole bench, as the hidden check makes it."""
    key, mistakes, bench = bench_rules(learner)
    question = read_manifest(FOLDER).question(WHOLE)
    return question.mark(question.read(answer, None), key, mistakes, bench=bench)


@cache
def bench_rules(learner: str):
    kept = {}

    def note(self, name, key, mistakes=None, weight=1.0, **more):
        kept[name] = (key, mistakes or {}, more.get("bench"))

    with pytest.MonkeyPatch.context() as patch, contextlib.redirect_stdout(io.StringIO()):
        patch.setattr(Worksheet, "mark", note)
        with open_desk(MarkingDesk(learner, FOLDER, COURSES[0], {})):
            namespace = {}
            for code in check_cells():
                exec(code, namespace)
    return kept[WHOLE]


def groups_of(learner: str) -> dict:
    """Suspects of one learner, by what they do."""
    groups = runpy.run_path(str(FOLDER / "case.py"))["WHOLE_BENCH"]
    suspects = case_of(COURSES[0], learner).bench_suspects
    return {group: [n for n in suspects if n in names] for group, names in groups.items()}


def test_the_bench_refutes_a_claim_with_its_reading():
    low = groups_of(LEARNERS[0])["low"][0]
    key = bench_rules(LEARNERS[0])[0]
    mark = marked_at_bench([*key, low])
    air = air_with([low])
    assert f"“{low}”: refuted, air through the condenser {air:.0f} %, not below 20 %." in mark.reason
    assert air > 20 and mark.status == "partly"


def test_a_claim_that_holds_too_much_is_told_so_without_the_smaller_set():
    groups = groups_of(LEARNERS[0])
    (both,), more = groups["both"], groups["more"][0]
    key = bench_rules(LEARNERS[0])[0]
    mark = marked_at_bench([["and", both, more] if one == both else one for one in key])
    said = mark.reason.partition("At the bench: ")[2].partition("Example")[0]
    assert "would also with one cause fewer" in said
    assert "Missing: 1 (1 of one cause)." in mark.reason
    assert f"Missing: “{both}”" in mark.key


def test_a_cause_that_is_none_of_her_suspects_is_told_so():
    case = case_of(COURSES[0], LEARNERS[0])
    foreign = next(name for name in SETS["faults"] if name not in case.bench_suspects)
    mark = marked_at_bench([*bench_rules(LEARNERS[0])[0], foreign])
    assert f"“{foreign}” is none of your suspects." in mark.reason
    four = marked_at_bench(["and", *case.bench_suspects[:4]])
    assert four.share == 0 and "At the bench: " in four.reason


def test_the_tree_of_the_whole_bench_is_right_by_reasoning_too():
    for learner in LEARNERS[:12]:
        groups = groups_of(learner)
        stand_in = [*groups["elsewhere"], "high request missing"]
        tree = ["or", *groups["both"],
                ["and", ["or", *groups["low"]], ["or", *groups["high"], "fan 2 open", *stand_in]],
                ["and", "fan 2 open", ["or", *groups["changeover"], *stand_in]]]
        assert marked_at_bench(tree, learner).reason == "Right."


# ---- fairness


@pytest.mark.parametrize("course", COURSES)
def test_neighbours_have_other_questions(course):
    for one, other in itertools.pairwise(LEARNERS):
        a, b = case_of(course, one), case_of(course, other)
        assert a.low_suspects != b.low_suspects and a.high_suspects != b.high_suspects
        assert a.bench_suspects != b.bench_suspects
        assert (a.chain_percent, a.chain_minutes) != (b.chain_percent, b.chain_minutes)
        assert (a.check_percent, a.check_minutes) != (b.check_percent, b.check_minutes)
        assert (a.single_percent, a.pair_percent) != (b.single_percent, b.pair_percent)
        assert (a.shared_cause, a.left_causes, a.right_causes) != (
            b.shared_cause, b.left_causes, b.right_causes)


def test_everybody_has_the_same_amount_of_work():
    for course, learner in EVERYBODY:
        case, rules = case_of(course, learner), rules_of(course, learner)
        assert len(case.low_suspects) == 9 and len(case.high_suspects) == 8
        assert 2 <= len(rules["cases that stop the clutch"][0]) <= 4
        assert rules["rows before striking out"][0] in (9, 12)
        assert len({*case.pair_causes, *case.triple_causes, case.single_cause}) == 6


def test_suspects_are_among_the_causes_the_question_offers():
    manifest = read_manifest(FOLDER)
    assert set(manifest.question("tree on low").events) == set(FAULTS)
    for course, learner in EVERYBODY:
        case = case_of(course, learner)
        assert set(case.low_suspects) | set(case.high_suspects) <= set(FAULTS)
        assert len(set(case.low_suspects)) == 9 and len(set(case.high_suspects)) == 8
