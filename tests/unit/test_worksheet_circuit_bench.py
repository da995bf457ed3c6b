"""The circuit bench: what is measured is said, written down, and can be worked out again."""

import json
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldbench.errors import InputError
from coldbench.worksheet.bench_setting import setting_of
from coldbench.worksheet.circuit_bench import CircuitBench, expected_at
from coldbench.worksheet.entries import Entry, Owner
from coldbench.worksheet.journal import Journal
from coldbench.worksheet.kinds.journal import Wanted, sift

BURNT = ["K1:contacts_burnt=0.2"]


@pytest.fixture
def bench(tmp_path):
    """A bench with burnt contacts and a journal of its own."""
    return CircuitBench("three-relay-fans", BURNT,
                        journal=Journal(tmp_path, Owner("term", "fans", "ml-07")))


def last(bench) -> Entry:
    return bench.journal.entries[-1]


def test_a_measurement_is_printed_returned_and_written_down(bench, capsys):
    bench.set("low")
    measured = bench.measure(red=3, black=4)
    said = capsys.readouterr().out
    assert said.startswith("Now state low.\nvoltmeter, red K1.30, black K1.87, state low: 1.1")
    assert " V ± 0.0" in said
    assert float(measured) == measured.value == last(bench).reading
    assert measured.value == pytest.approx(0.2 * bench.solution.currents["K1"], rel=0.01)
    assert last(bench).as_dict() | {"time": "", "uncertainty": 0} == {
        "n": 1, "time": "", "instrument": "voltmeter",
        "arguments": {"red": "K1.30", "black": "K1.87"}, "settings": {"state": "low"},
        "reading": measured.value, "unit": "V", "uncertainty": 0, "minutes": 1.0, "note": ""}


def test_a_refusal_is_written_down_with_its_caution(bench, capsys):
    measured = bench.measure(15, 16, mode="ohm")
    assert "✗ refused. the circuit is live" in capsys.readouterr().out
    assert last(bench).refused and "disconnect the battery" in last(bench).note
    with pytest.raises(InputError, match="gave no number"):
        float(measured)


def test_the_ohmmeter_reads_with_the_battery_off_and_alone_when_unplugged(bench):
    coil_ohm = 88 * 680 / 768  # with its own resistor beside it
    bench.disconnect_battery()
    in_place = bench.measure(17, 18, "ohm").value  # the coil of relay 3 lies in parallel
    assert in_place == pytest.approx(coil_ohm / 2, rel=0.01)
    bench.unplug("K2")
    assert bench.measure(17, 18, "ohm").value == pytest.approx(coil_ohm, rel=0.002)
    bench.fit(K2_suppression_ohm=1e6)
    assert bench.measure(17, 18, "ohm").value == pytest.approx(88, rel=0.002)
    bench.plug()
    bench.connect_battery()
    bench.set("high")
    assert bench.solution.relays["K2"] == "energised"
    bench.unplug("K2")
    assert bench.solution.relays["K2"] == "released" and bench.solution.currents["M2"] > 5
    bench.plug("K2")
    assert bench.solution.relays["K2"] == "energised"


def test_every_instrument_can_be_worked_out_again(bench):
    for state in ("off", "low", "high", "off"):
        bench.set(state)
        bench.measure(3, 4)
        bench.measure(4, 2, mode="lamp")
        bench.measure(4, 2, mode="lamp", bulb="21W")
        bench.measure("W9", mode="amps")
        bench.measure(5, 6, mode="ohm")
    bench.set(low_request=False, high_request=True)
    bench.measure(9, 2)
    bench.unplug("W16", "K3")
    bench.measure(17, 2)
    entries = bench.journal.entries
    assert len(entries) == 22 and {e.instrument for e in entries} == {
        "voltmeter", "test lamp", "current clamp", "ohmmeter"}
    again = CircuitBench("three-relay-fans", BURNT)
    assert sift(entries, again.expected) == (list(entries), [])
    other = CircuitBench("three-relay-fans", ["K1:contacts_burnt=0.05"])
    good, impossible = sift(entries, other.expected)
    assert good and any(entry.state == "low" for entry in impossible)


def test_relays_that_remember_are_worked_out_from_what_came_before(bench):
    """Coils that hold at 5 V but do not operate there: between release and operate voltage."""
    bench.set("high")
    bench.fit(B_emf_V=5.0, PS_emf_V=5.0)
    assert bench.solution.relays["K1"] == "energised"
    bench.measure(4, 2)
    assert last(bench).settings["after"] == [{"state": "high"}]
    again = CircuitBench("three-relay-fans", BURNT)
    assert sift(bench.journal.entries, again.expected)[1] == []
    forged = Entry(**{**last(bench).as_dict(), "settings": {
        key: value for key, value in last(bench).settings.items() if key != "after"}})
    assert sift([forged], again.expected)[1] == [forged]


def test_what_cannot_be_is_said_in_a_sentence_and_changes_nothing(bench, capsys):
    for call in (lambda: bench.measure(99), lambda: bench.measure("K1", 2), bench.measure,
                 lambda: bench.measure([1], {}), lambda: bench.measure(1, 2, "x"),
                 lambda: bench.measure(1, 2, ["x"]), lambda: bench.measure([1], mode="amps"),
                 lambda: bench.measure("no", mode="amps"),
                 lambda: bench.measure(1, 2, "lamp", bulb="9W"), lambda: bench.set("quick"),
                 lambda: bench.set([1]), lambda: bench.set(low=True),
                 lambda: bench.set(low_request=5), lambda: bench.unplug("nothing"),
                 lambda: bench.fit(B_emf=1.0), lambda: bench.fit(B_emf_V="x"),
                 lambda: bench.fit(B_emf_V=float("nan"))):
        before = bench.now
        call()
        said = capsys.readouterr().out
        assert said.startswith("✗ ") and said.count("\n") == 1, said
        assert bench.now == before
    assert bench.journal.entries == ()


def test_a_journal_that_cannot_be_written_is_said_beside_the_reading(bench, capsys):
    bench.journal.path.mkdir()
    bench.measure(1, 2)
    assert "! The journal journal.jsonl cannot be written" in capsys.readouterr().out


def test_the_notebook_shows_a_reading_once(bench):
    assert bench.measure(1, 2)._ipython_display_() is None
    assert repr(bench.measure(1, 2)).startswith("voltmeter, red S1")
    assert repr(bench) == "Two condenser fans on three relays, state off"


ANY = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(), st.floats(allow_nan=False), st.text(),
              st.sampled_from(["low", "off", "K1.30", "K1", "B.emf_V", "disconnected"])),
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(
        st.sampled_from(["state", "set", "inputs", "unplugged", "after", "battery", "red",
                         "black", "round", "bulb", "low_request"]), inner, max_size=4)),
    max_leaves=10)
NAMES = st.dictionaries(st.sampled_from(["state", "set", "inputs", "unplugged", "after", "battery",
                                         "red", "black", "round", "bulb"]), ANY, max_size=4)
FANS = CircuitBench("three-relay-fans")


@given(st.sampled_from(["voltmeter", "ohmmeter", "test lamp", "current clamp", "x"]), NAMES, NAMES,
       st.one_of(st.none(), st.floats(allow_nan=False, allow_infinity=False), st.text()))
def test_a_strangers_entry_raises_nothing_but_is_sorted_out(instrument, arguments, settings, value):
    entry = Entry(1, "", instrument, arguments, settings, value, "V")
    good, impossible = sift([entry], FANS.expected)
    assert len(good) + len(impossible) == 1
    json.dumps(entry.as_dict())
    if "state" not in settings and "set" not in settings:
        assert impossible
        with pytest.raises(InputError):
            setting_of(settings)


def test_benches_of_one_lab_keep_one_journal(tmp_path, capsys):
    """Each entry names its bench, and only that bench can have given it."""
    journal = Journal(tmp_path, Owner("term", "fans", "ml-07"))
    sound = CircuitBench("three-relay-fans", journal=journal, name="bench A")
    burnt = CircuitBench("three-relay-fans", BURNT, journal=journal, name="bench B")
    for bench in (sound, burnt):
        bench.set("low")
        bench.measure(3, 4)
    assert "Now bench B, state low.\nvoltmeter, red K1.30, black K1.87, bench B, state low" in (
        capsys.readouterr().out)
    entries = journal.entries
    assert [entry.bench for entry in entries] == ["bench A", "bench B"]
    assert "bench B, low" in repr(journal)
    assert sift(entries, expected_at(sound, burnt)) == (list(entries), [])
    assert sift(entries, sound.expected) == ([entries[0]], [entries[1]])
    moved = replace(entries[1], settings=entries[1].settings | {"bench": "bench A"})
    unknown = replace(entries[1], settings=entries[1].settings | {"bench": "bench Z"})
    assert sift([moved, unknown], expected_at(sound, burnt))[1] == [moved, unknown]
    assert [Wanted(bench="bench B").fits(entry) for entry in entries] == [False, True]
