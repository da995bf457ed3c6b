"""The panel that tries causes at a bench: simulated, told in words, nothing marked."""

import pytest

from coldbench.bench import load_bench, read
from coldbench.errors import InputError
from coldbench.panels import CausesPanel

CAUSES = {"fuse F1 blown": "F1:blown", "fan 2 open": "M2:open", "fuse F3 blown": "F3:blown"}
SHOWN = {"condenser flow": "condenser air", "clutch": "clutch pulled in"}


@pytest.fixture(scope="module")
def panel():
    return CausesPanel("blue", "fans never run", CAUSES, readings=SHOWN)


def test_ticking_alone_tries_nothing(panel):
    before = len(panel.tried)
    panel.set(**{"cause 1": True})
    assert len(panel.tried) == before
    assert "Settings" not in panel.html()  # ticks are no readings; the table says what was tried


def test_a_trial_is_what_the_bench_shows(panel):
    one = panel.try_causes("fuse F1 blown")
    both = panel.try_causes("fan 2 open", "fuse F1 blown")
    assert (one.shows, both.shows) == (False, True)
    assert both.causes == ("fuse F1 blown", "fan 2 open")
    read_anew = read(load_bench("blue"), "full cooling", ("F1:blown", "M2:open"))
    assert both.readings[0] == f"{read_anew.values['condenser flow'].value:.0f} %"
    assert both.readings[1] == "yes"
    line = panel._frame["line"]
    assert line.startswith("fuse F1 blown + fan 2 open\nThe bench shows “fans never run”")
    assert line.endswith("condenser air 6 %.")


def test_trials_are_listed_once_the_newest_first(panel):
    panel.try_causes("fuse F3 blown")
    panel.try_causes()
    panel.try_causes("fuse F3 blown")
    rows = panel._frame["rows"]
    assert [row[0] for row in rows[:2]] == ["fuse F3 blown", "no fault at all"]
    assert [row[1] for row in rows[:2]] == ["yes", "no"]
    assert len({row[0] for row in rows}) == len(rows)
    assert panel.readings()["put_in"] == "fuse F3 blown"
    assert "no fault at all" in panel.html()


@pytest.mark.parametrize(("change", "words"), [
    ({"causes": {}}, "0 causes; accepted: 1 to 20"),
    ({"causes": {"a": "F99:blown"}}, "F99"),
    ({"symptom": "too loud"}, "no symptom 'too loud'"),
    ({"readings": {"gauge middle": "x"}}, "no reading 'gauge middle'"),
    ({"bench": "green"}, "green"),
])
def test_bad_input_is_one_sentence(change, words):
    given = {"bench": "blue", "symptom": "fans never run", "causes": CAUSES, **change}
    with pytest.raises(InputError, match=words) as told:
        CausesPanel(**given)
    assert "\n" not in str(told.value)


def test_a_cause_that_is_not_listed_is_refused(panel):
    with pytest.raises(InputError, match="'belt torn' is not one of the causes"):
        panel.try_causes("belt torn")
