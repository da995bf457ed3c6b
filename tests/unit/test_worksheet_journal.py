"""Marking a journal: what the circuit could have shown counts, the rest is named."""

import json
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldbench.errors import InputError
from coldbench.worksheet import Mistake, Wanted
from coldbench.worksheet.entries import Entry, Owner, entry_line, head_line
from coldbench.worksheet.kinds import JournalQuestion, question_from_table
from coldbench.worksheet.kinds.journal import CHANGED, FOREIGN, IMPOSSIBLE, summary

OWNER = Owner("term-1", "fans", "ml-07")
QUESTION = JournalQuestion("measurements").bound("term-1", "fans", "ml-07")
VOLTS = {("K1.30", "B.minus"): 12.6, ("K1.30", "K1.87"): 0.15, ("M1.plus", "B.minus"): 12.4}
KEY = {"the supply of relay 1": Wanted("voltmeter", "low", ("K1.30", "B.minus")),
       "the drop across relay 1": Wanted(points=("K1.87", "K1.30"), weight=3)}


def expected(entry):
    """What this circuit shows: volts between known places; no ohms while it is live."""
    if entry.instrument == "ohmmeter":
        return None
    red, black = entry.arguments["red"], entry.arguments["black"]
    sign = 1 if (red, black) in VOLTS else -1
    return sign * VOLTS[(red, black) if sign == 1 else (black, red)], "V", 0.05


def volts(n, red, black, reading, state="low", **more):
    return Entry(n, "t", "voltmeter", {"red": red, "black": black}, {"state": state}, reading,
                 "V", 0.05, 1.0, **more)


HONEST = (volts(1, "K1.30", "B.minus", 12.6), volts(2, "K1.87", "K1.30", -0.16))


def journal(*entries, owner=OWNER, remade=False):
    line, seal = head_line(owner, "t")
    lines = [line]
    for entry in entries:
        line, seal = entry_line(owner, entry, seal)
        lines.append(line)
    return {"journal": lines, "remade": remade}


def marked(value, key=KEY, **rules):
    return QUESTION.mark(QUESTION.read(value), key, **{"expected": expected, **rules})


def test_an_honest_journal_earns_all():
    mark = marked(journal(*HONEST))
    assert (mark.share, mark.reason, mark.mistake) == (1.0, "Right.", "")
    assert mark.answer == "2 measurements (voltmeter 2); 2 min"
    assert mark.key == "the supply of relay 1; the drop across relay 1"


def test_each_wanted_measurement_earns_its_weight():
    mark = marked(journal(HONEST[0]))
    assert mark.share == pytest.approx(0.25)
    assert mark.reason == ("1 of 2 wanted measurements found. "
                           "Not found: the drop across relay 1.")
    assert marked(journal(HONEST[1])).share == pytest.approx(0.75)
    assert marked(journal(volts(1, "K1.30", "B.minus", 12.6, state="high"))).share == 0


def test_readings_the_circuit_could_not_have_given_are_named_and_earn_nothing():
    mark = marked(journal(volts(1, "K1.30", "B.minus", 9.9), HONEST[1]))
    assert mark.share == pytest.approx(0.75) and mark.mistake == IMPOSSIBLE
    assert "could not have given no. 1 (voltmeter, 9.9 V ± 0.05 V)" in mark.reason
    wide = Entry(**{**HONEST[0].as_dict(), "reading": 9.9, "uncertainty": 1e9})
    assert marked(journal(wide, HONEST[1])).mistake == IMPOSSIBLE
    for odd in ({"unit": "mV"}, {"reading": "12.6"}, {"reading": None},
                {"arguments": {"red": "nowhere", "black": "K1.30"}}, {"arguments": {}},
                {"arguments": {"red": ["K1.30"], "black": {}}}, {"instrument": "ohmmeter"},
                {"reading": 1.7e308}, {"reading": -12.6}):
        entry = Entry(**{**HONEST[0].as_dict(), **odd})
        mark = marked(journal(entry, HONEST[1]))
        assert mark.share == pytest.approx(0.75), odd
        assert mark.mistake == IMPOSSIBLE, odd


def test_the_limit_of_the_uncertainty_is_still_possible():
    for reading, share in ((12.65, 1), (12.55, 1), (12.651, 0.75), (12.549, 0.75)):
        assert marked(journal(volts(1, "K1.30", "B.minus", reading), HONEST[1])).share == share


def test_a_refusal_is_a_measurement_that_earns_nothing_by_itself():
    refused = Entry(1, "t", "ohmmeter", {"red": "K1.30", "black": "K1.87"}, {"state": "low"},
                    None, note="live")
    mark = marked(journal(refused, *HONEST))
    assert (mark.share, mark.mistake) == (1, "") and "1 of them refused" in mark.answer
    assert marked(journal(refused)).share == 0
    assert marked(journal(refused), {"saw the refusal": Wanted("ohmmeter", refused=True)}
                  ).share == 1


def test_words_are_compared_as_words():
    def lamp(entry):
        return "bright", "", 0.0

    for reading, share in (("bright", 1), (" Bright", 1), ("dim", 0), (1.0, 0)):
        entry = Entry(1, "t", "test lamp", {"red": "a"}, {}, reading)
        assert marked(journal(entry), {"lamp": Wanted("test lamp")}, expected=lamp).share == share


def test_a_changed_or_foreign_journal_is_named():
    value = journal(*HONEST)
    value["journal"][1] = value["journal"][1].replace("12.6", "12.7")
    mark = marked(value)
    assert mark.share == pytest.approx(0.75) and mark.mistake == CHANGED
    assert "Line 2 of the journal was changed by hand" in mark.reason
    mark = marked(journal(*HONEST, owner=Owner("term-1", "fans", "ml-08")))
    assert (mark.share, mark.mistake, mark.status) == (0, FOREIGN, "wrong")
    assert "another journal (learner 'ml-08')" in mark.reason


def test_a_journal_made_again_while_grading_counts_and_says_so():
    mark = marked(journal(*HONEST, remade=True))
    assert mark.share == 1 and "No journal file came with the notebook" in mark.reason


def test_counts_ask_for_different_places_or_settings():
    three = {"three readings": Wanted("voltmeter", count=3)}
    assert marked(journal(*[HONEST[0]] * 3), three).share == pytest.approx(1 / 3)
    assert marked(journal(*HONEST, volts(3, "M1.plus", "B.minus", 12.4)), three).share == 1


def test_points_may_have_several_names_and_functions_may_ask_anything():
    key = {"supply": Wanted(points=({"K1.30", "F1.b"}, "B.minus")),
           "any at a fan": Wanted(points=("M1.plus",)),
           "high": lambda entry: entry.reading > 10}
    assert marked(journal(HONEST[0], volts(2, "M1.plus", "B.minus", 12.4)), key).share == 1
    assert marked(journal(HONEST[1]), key).share == 0
    raising = {"odd": lambda entry: entry.settings["no such"]}
    assert marked(journal(*HONEST), raising).share == 0


def test_more_measurements_than_enough_cost_a_little():
    many = [*HONEST, *[volts(n, "M1.plus", "B.minus", 12.4) for n in range(3, 6)]]
    mark = marked(journal(*many), most=3)
    assert mark.share == pytest.approx(0.9) and "5 measurements are more than the 3" in mark.reason
    assert marked(journal(*HONEST, *many * 20), most=3).share == pytest.approx(0.5)


def test_foreseen_mistakes_see_all_entries_and_multiply():
    live = {"measured ohms on a live circuit": Mistake(
        lambda entries: any(e.refused for e in entries), 0.8, "Switch off first.")}
    refused = Entry(1, "t", "ohmmeter", {}, {}, None)
    mark = marked(journal(refused, *HONEST), mistakes=live)
    assert mark.share == pytest.approx(0.8) and mark.mistake == next(iter(live))
    assert mark.reason == "Likely mistake: measured ohms on a live circuit. Switch off first."
    assert marked(journal(*HONEST), mistakes=live).mistake == ""


def test_without_a_way_to_work_readings_out_every_whole_entry_counts():
    assert marked(journal(volts(1, "K1.30", "B.minus", 99.0), HONEST[1]), expected=None).share == 1


@pytest.mark.parametrize("value", [5, "text", [], {"journal": "x"}, {"journal": None}, [HONEST],
                                   {"measurements": []}])
def test_what_is_no_journal_is_refused_with_what_to_write(value):
    with pytest.raises(InputError, match=r'sheet.answer_journal\("measurements"\)'):
        QUESTION.read(value)


@pytest.mark.parametrize("key", [{}, [], None, {"a": 5}, [Wanted()]])
def test_a_key_that_makes_no_sense_is_refused(key):
    with pytest.raises(InputError):
        marked(journal(*HONEST), key)


@pytest.mark.parametrize("wrong", [{"count": 0}, {"weight": 0}, {"weight": math.nan},
                                   {"points": ("a", "b", "c")}])
def test_a_wanted_that_makes_no_sense_is_refused(wrong):
    with pytest.raises(InputError):
        Wanted(**wrong)


def test_a_journal_question_takes_no_keys_of_its_own():
    def refuse(key, why):
        return InputError(f"{key}: {why}")

    assert question_from_table({"id": "m", "kind": "journal"}, refuse) == JournalQuestion("m")
    with pytest.raises(InputError, match="unknown"):
        question_from_table({"id": "m", "kind": "journal", "owner": "ml-01"}, refuse)


PLAIN = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(-10**6, 10**6), st.text(max_size=8),
              st.floats(allow_nan=False, allow_infinity=False)),
    lambda inner: st.one_of(st.lists(inner, max_size=3),
                            st.dictionaries(st.text(max_size=5), inner, max_size=3)),
    max_leaves=8)


@given(st.lists(st.builds(
    Entry, st.integers(1, 99), st.text(max_size=5), st.text(max_size=20),
    st.dictionaries(st.text(max_size=5), PLAIN, max_size=3),
    st.dictionaries(st.sampled_from(["state", "after", "x"]), PLAIN, max_size=3),
    st.one_of(st.none(), st.text(max_size=9), st.floats(allow_nan=False, allow_infinity=False)),
    st.text(max_size=4), st.one_of(st.none(), st.floats(0, 1e300)), st.floats(0, 1e300),
    st.text(max_size=50)), max_size=5))
def test_well_sealed_nonsense_earns_nothing_and_raises_nothing(entries):
    mark = marked(journal(*entries))
    assert mark.share == 0 and len(mark.reason) < 700
    json.dumps(mark.as_dict(), allow_nan=False)
    assert len(mark.answer) < 400 and summary(entries)
