"""Diagnoses as answers: part, fault and proof are weighed apart; a guess gets the stated share."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coldbench.errors import InputError
from coldbench.worksheet import Entry, Mistake, Wanted
from coldbench.worksheet.bench_marking import (
    CONFIRMED, NOT_CONFIRMED, NOT_VERIFIED, REPAIRED, VERIFIED, work_mistakes,
)
from coldbench.worksheet.kinds import diagnosis as kind
from coldbench.worksheet.kinds import question_from_table
from coldbench.worksheet.records import plain

PARTS, MODES = ["F1", "K1", "M1"], ["burnt", "coil open", "open"]
DROP = Wanted("voltmeter", state="low", points=("K1.30", "K1.87"))


def question(**row):
    return question_from_table({"id": "bench 1", "kind": "diagnosis", **row},
                               lambda key, why: InputError(f"{key}: {why}"))


ANY, OFFERED = question(), question(parts=PARTS, modes=MODES)


def entry(n, reading, points=("K1.30", "K1.87"), state="low"):
    return Entry(n, "", "voltmeter", dict(zip(("red", "black"), points, strict=True)),
                 {"state": state}, reading, "V", 0.05)


JOURNAL = (entry(1, 12.6, ("B.plus", "B.minus")), entry(2, 4.2), entry(3, 0.0, state="off"),
           entry(4, None), entry(5, 9.9))


def expected(one):
    """What the bench gives: everything as written down, but entry 5."""
    return (4.2 if one.n == 5 else one.reading, "V", 0.05) if one.reading is not None else None


def proves(entries):
    return any(DROP.fits(one) and one.reading > 1 for one in entries)


def marked(value, key=("K1", "burnt"), asked=ANY, **rules):
    rules = {"proves": proves, "journal": JOURNAL, "expected": expected} | rules
    return asked.mark(asked.read(plain(value)), key, **rules)


@pytest.mark.parametrize("value", [
    {"part": "K1", "mode": "burnt", "evidence": [2]},
    {"Mode": "Burnt", "part": " k1", "evidence": "2"},
    {"part": "K1", "mode": "burnt", "evidence": 2},
    {"part": "K1", "mode": "burnt", "evidence": "#1, #2; 2"},
    ("K1", "burnt", [1, 2]),
    ["K1", "burnt", [2.0, 3]],
])
@pytest.mark.parametrize("asked", [ANY, OFFERED], ids=["any", "offered"])
def test_part_fault_and_proof_earn_all(value, asked):
    mark = marked(value, asked=asked)
    assert (mark.share, mark.reason, mark.mistake) == (1, "Right, and proven.", "")


@pytest.mark.parametrize("evidence", [[], None, [1], [3], [4]])
@pytest.mark.parametrize(("shares", "stated"), [({}, 0.4), ({"part": 0.2, "mode": 0.0}, 0.2),
                                                ({"part": 0.0, "mode": 0.0}, 0.0)])
def test_a_guesser_gets_the_stated_share_and_no_more(evidence, shares, stated):
    mark = marked({"part": "K1", "mode": "burnt", "evidence": evidence}, **shares)
    assert (mark.share, mark.mistake) == (pytest.approx(stated), kind.GUESSED)
    assert "burnt" not in mark.reason and "K1" not in mark.reason


@settings(max_examples=80)
@given(part=st.sampled_from(PARTS), mode=st.sampled_from(MODES),
       evidence=st.lists(st.integers(1, 8), max_size=4))
def test_no_proof_without_the_deciding_reading(part, mode, evidence):
    mark = marked({"part": part, "mode": mode, "evidence": evidence})
    proven = 2 in evidence
    right = {"part": 0.3 * (part == "K1"), "mode": 0.1 * (part == "K1" and mode == "burnt"),
             "proof": 0.6 * (part == "K1" and proven)}
    assert mark.share == pytest.approx(sum(right.values()))


def test_another_part_earns_nothing_however_it_is_proven():
    mark = marked(("M1", "burnt", [2]))
    assert (mark.share, mark.mistake) == (0, kind.OTHER_PART)
    assert "K1" not in mark.reason


def test_the_right_part_with_another_fault():
    mark = marked(("K1", "coil open", [2]))
    assert (mark.share, mark.mistake) == (pytest.approx(0.9), kind.OTHER_MODE)
    assert mark.reason == "The part is right, what is wrong with it is not."


def test_a_reading_the_bench_could_not_give_proves_nothing():
    mark = marked(("K1", "burnt", [5]))
    assert (mark.share, mark.mistake) == (pytest.approx(0.4), kind.IMPOSSIBLE)
    assert "could not have given entry 5" in mark.reason


def test_a_reading_that_is_not_in_the_journal_is_named():
    mark = marked(("K1", "burnt", [77, 78]))
    assert (mark.share, mark.mistake) == (pytest.approx(0.4), kind.NO_SUCH_ENTRY)
    assert "Not in your journal: entry 77, 78." in mark.reason
    assert marked(("K1", "burnt", [2, 77])).share == 1
    assert marked(("K1", "burnt", [2]), journal=None).share == pytest.approx(0.4)


def test_what_proves_may_answer_with_a_share_or_a_sentence():
    half = marked(("K1", "burnt", [2]), proves=lambda entries: 0.5)
    assert (half.share, half.status) == (pytest.approx(0.7), "partly")
    told = marked(("K1", "burnt", [2]), proves=lambda entries: "The coil side is not tested yet")
    assert told.share == pytest.approx(0.4) and told.reason.endswith("is not tested yet.")
    broken = marked(("K1", "burnt", [2]), proves=lambda entries: entries[7])
    assert broken.share == pytest.approx(0.4)
    assert marked(("K1", "burnt"), proves=None).share == 1


def test_several_answers_may_be_right_and_wrong_ones_named():
    pairs = [("K1", "burnt"), ("K1", "open"), ("F1", "open")]
    assert marked(("F1", "open", [2]), pairs).share == 1
    assert marked(("F1", "burnt", [2]), pairs).mistake == kind.OTHER_MODE
    mark = marked(("M1", "open", [2]), mistakes={
        "blamed the fan": Mistake(("M1", "open"), 0.1, "It runs on a jumper lead.")})
    assert (mark.mistake, mark.share) == ("blamed the fan", 0.1)


@pytest.mark.parametrize(("value", "words"), [
    ("K1", "is not a diagnosis"),
    ({"part": "K1"}, "the mode is missing"),
    ({"part": ..., "mode": "burnt"}, "the part is missing"),
    ({"part": "K1", "mode": "burnt", "colour": "red"}, "does not belong here"),
    ({"part": "K1", "mode": "burnt", "evidence": ["two"]}, "is not the number of a journal entry"),
    ({"part": "K1", "mode": "burnt", "evidence": [0]}, "is not the number"),
    ({"part": "K1", "mode": "burnt", "evidence": [2.5]}, "is not the number"),
    ({"part": "K1", "mode": "burnt", "evidence": [True]}, "is not the number"),
    ({"part": "K1", "mode": "burnt", "evidence": [-1]}, "is not the number"),
    ({"part": "K1", "mode": "burnt", "evidence": [10**12]}, "is not the number"),
    ({"part": "K1", "mode": "burnt", "evidence": list(range(1, 60))}, "name at most 40"),
    ({"part": 5, "mode": "burnt"}, "the part must be a name"),
])
def test_what_is_no_diagnosis_gets_one_sentence(value, words):
    with pytest.raises(InputError, match=words) as refused:
        ANY.read(plain(value))
    assert "\n" not in str(refused.value)


def test_offered_parts_are_listed_when_another_is_named():
    with pytest.raises(InputError, match="'K9' is not one of the choices: F1; K1; M1"):
        OFFERED.read(("K9", "burnt", [2]))
    assert "F1; K1; M1" in OFFERED.wanted


def test_no_evidence_is_doubted_at_once():
    assert "earns little" in ANY.read(("K1", "burnt")).doubt
    assert not ANY.read(("K1", "burnt", [2])).doubt


@pytest.mark.parametrize("key", ["K1", ("K1",), [], [("K1", "burnt", 3)], None])
def test_a_wrong_key_is_the_labs_error(key):
    with pytest.raises(InputError):
        marked(("K1", "burnt", [2]), key)


def test_shares_above_the_whole_are_refused():
    with pytest.raises(InputError, match="between 0 and 1"):
        marked(("K1", "burnt", [2]), part=0.9, mode=0.2)


MANY = question(parts=[f"K{n}" for n in range(1, 40)], modes=["coil open", "burnt"])


def test_of_many_parts_only_those_most_alike_are_offered():
    with pytest.raises(InputError, match="not the name of a part: did you mean K3") as refused:
        MANY.read(("K3x", "burnt", [2]))
    assert "K12" not in str(refused.value) and "K12" not in MANY.wanted
    assert MANY.read(("k-12", "Coil_open", [2])).value["part"] == "K12"
    with pytest.raises(InputError, match="there are 39; the lab's list"):
        MANY.read(("hose", "burnt", [2]))


def test_words_of_a_fault_in_another_order_are_offered_in_theirs():
    modes = ["coil open", "contacts open", *(f"worn {n}" for n in range(40))]
    asked = question(parts=["K1", "K2"], modes=modes)
    with pytest.raises(InputError, match=r"not the name of a mode: did you mean coil open\?$"):
        asked.read(("K1", "open coil", [2]))


def test_a_lab_may_judge_cause_proof_and_way_itself():
    asked = []

    def scored(given, journal):
        asked.append((given["evidence"], journal))
        return kind.Judged(0.8, "a long way round", "You measured twice what one reading told.")

    mark = marked(("K1", "burnt", [2]), scored=scored, journal=())
    assert (mark.share, mark.mistake, mark.status) == (0.8, "a long way round", "partly")
    assert asked == [([2], ())]
    assert marked(("F1", "burnt", [2]), scored=scored, journal=()).share == 0.0
    assert len(asked) == 1, "who blames another part is not asked about the way"


class Job:
    """A bench of which a journal shows some of the work."""

    def __init__(self, *done):
        self.done = done

    def did(self, what, entries):
        return what in self.done


@pytest.mark.parametrize(("jobs", "named"), [
    ([Job()], set()), ([Job(VERIFIED)], set()),  # nothing was put right yet: nothing is missing
    ([Job(REPAIRED, CONFIRMED)], {NOT_VERIFIED}), ([Job(VERIFIED, REPAIRED)], {NOT_CONFIRMED}),
    ([Job(VERIFIED, REPAIRED, CONFIRMED)], set()), ([Job(REPAIRED)], {NOT_VERIFIED, NOT_CONFIRMED}),
    ([Job(VERIFIED, REPAIRED, CONFIRMED), Job(VERIFIED, REPAIRED)], {NOT_CONFIRMED}),
    ([Job(VERIFIED, REPAIRED), Job(VERIFIED, CONFIRMED)], {NOT_CONFIRMED}),
])
def test_work_that_is_missing_after_a_repair_is_named(jobs, named):
    foreseen = work_mistakes(iter(jobs))
    assert {name for name, mistake in foreseen.items() if mistake.value(())} == named
