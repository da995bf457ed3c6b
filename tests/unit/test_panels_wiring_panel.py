"""The wiring panel in Python: leads, meter, requests, and the bench behind it."""

import re

import pytest
from coldbench.errors import InputError
from coldbench.panels import WiringPanel
from coldbench.worksheet.circuit_bench import CircuitBench


@pytest.fixture
def bench():
    return CircuitBench("three-relay-fans")


def test_a_reading_is_taken_only_when_asked_for_and_by_the_bench(bench, monkeypatch):
    probed = []
    probe = bench.probe
    monkeypatch.setattr(bench, "probe", lambda *a: probed.append(a) or probe(*a))
    panel = WiringPanel(bench, state="low")
    panel.set(red=5, black=6)
    assert probed == [] and panel.readings()["reading"] is None
    got = panel.measure()
    assert probed == [(5, 6, "dcv")]
    assert 6.2 < got.value < 7.2  # half of the supply on each fan, design figure 6.7 V
    assert panel.readings()["reading"].startswith(f"{got.value:.2f} V")
    panel.set(red=3)
    assert panel.readings()["reading"] is None  # an old reading is not shown for new places


def test_the_newest_readings_stand_in_the_table(bench):
    panel = WiringPanel(bench, state="high")
    for red in range(1, 12):
        panel.measure(red=red)
    rows = panel._frame["rows"]
    assert len(rows) == 8 and rows[0][0] == "11" and rows[0][3:5] == ["11", "2"]
    assert all(row[1] == "state high" and row[2] == "Volts" for row in rows)


def test_state_and_requests_follow_each_other(bench):
    panel = WiringPanel(bench)
    panel.set(state="high")
    assert panel.settings["set_low_request"] and panel.settings["set_high_request"]
    panel.set(set_high_request=False)
    assert panel.settings["state"] == "low" and bench.state == "low"
    panel.set(set_low_request=False, set_high_request=True)
    assert panel.settings["state"] == "by hand"
    assert bench.circuit.settings(dict(bench.now.settings)) == {
        "low_request": False, "high_request": True}  # fmt: skip
    assert "low request off, high request on" in panel._frame["line"]


def test_ohms_are_refused_on_a_live_circuit_and_given_with_the_supplies_off(bench):
    panel = WiringPanel(bench)
    panel.measure(red=15, black=16, mode="ohm")
    assert "refused" in panel._frame["line"]
    panel.set(supply=False)
    got = panel.measure()
    assert 70 < got.value < 95  # coil of 88 ohm beside its 680 ohm resistor: 77.9 ohm
    assert got.unit in ("ohm", "Ω")


def test_the_switch_of_the_supplies_is_the_one_of_the_bench(bench):
    panel = WiringPanel(bench, supply=False, off="K3")
    assert not bench.now.battery and bench.now.unplugged == ("K3",)
    panel.set(supply=True, off="none")
    assert bench.now.battery and bench.now.unplugged == ()


def test_a_reading_belongs_to_what_the_panel_shows(bench):
    """Code may have switched the bench meanwhile; a new panel shows what it finds."""
    panel = WiringPanel(bench, state="low")
    bench.set("high")
    bench.unplug("K2")
    bench.disconnect_battery()
    assert 6.2 < panel.measure(red=5, black=6).value < 7.2
    assert (bench.state, bench.now.unplugged, bench.now.battery) == ("low", (), True)
    bench.unplug("K2")
    bench.disconnect_battery()
    found = WiringPanel(bench).settings
    assert (found["state"], found["off"], found["supply"]) == ("low", "K2", False)


def test_the_title_names_the_bench():
    assert WiringPanel(CircuitBench("clutch", name="bench E")).title == (
        "Bench E: Compressor clutch with pressure switch and engine permission")


def test_the_clamp_goes_round_a_wire_and_needs_no_leads(bench):
    panel = WiringPanel(bench, state="low", mode="amps", round="F1")
    got = panel.measure()
    assert abs(abs(got.value) - 6.3) < 0.3
    assert {c["name"] for c in panel._stage["controls"]} & {"red", "black"} == set()


def test_a_part_taken_off_is_put_back(bench):
    panel = WiringPanel(bench, state="high", off="K2")
    assert bench.now.unplugged == ("K2",)
    panel.set(off="none")
    assert bench.now.unplugged == ()


def test_leads_are_marked_by_shape_and_letter(bench):
    panel = WiringPanel(bench, red=5, black=6)
    front, words = panel._frame["pictures"]["wiring"]
    assert len(re.findall("cb-wd-red\"", front)) == 1 and ">R<" in front
    assert len(re.findall("cb-wd-black\"", front)) == 1 and ">B<" in front
    assert "Red on 5, black on 6" in words and "Two condenser fans" in words


def test_live_values_are_offered_only_where_the_lab_wants_them(bench):
    names = {c["name"] for c in WiringPanel(bench)._stage["controls"]}
    assert "show_live" not in names
    panel = WiringPanel(bench, live=True, state="low", show_live=True)
    assert "energised" in panel._frame["pictures"]["wiring"][0]


def test_every_test_point_can_be_reached(bench):
    targets = WiringPanel(bench)._stage["targets"]
    assert [int(point[0]) for point in targets["points"]] == sorted(bench.circuit.test_points)
    assert all(point[1].startswith(f"Test point {point[0]}, ") for point in targets["points"])


def test_a_sentence_instead_of_a_reading_without_leads(bench):
    panel = WiringPanel(bench, red="none")
    assert panel.measure() is None
    assert "Place both leads first" in panel._frame["line"] and panel._frame["rows"] == []


def test_other_circuits_have_their_own_controls():
    panel = WiringPanel("blower", state="medium")
    assert panel.settings["set_blower_duty"] == 0.6
    panel.set(set_blower_duty=80)
    assert panel.settings["state"] == "by hand" and "blower duty 80 %" in panel._frame["line"]
    assert "sensor" in WiringPanel("sensor-splice").title.lower()


@pytest.mark.parametrize(("changes", "words"), [
    ({"red": 99}, "not one of"), ({"state": "fast"}, "not one of"), ({"mode": "dva"}, "not one of"),
    ({"off": "K9"}, "not one of"), ({"lead": 3}, "no control 'lead'")])  # fmt: skip
def test_what_does_not_fit_is_refused_in_words(changes, words):
    with pytest.raises(InputError, match=words):
        WiringPanel(**changes)


def test_the_still_view_holds_diagram_and_readings(bench):
    panel = WiringPanel(bench, state="low")
    panel.measure(red=5, black=6)
    html = panel.html()
    assert 'role="img"' in html and "Condenser" in html and "cb-wide" in html
    assert panel.readings()["reading"].split(" ±")[0] in html
