"""A whole bench in the notebook: printed, journalled, worked out again for marking."""

from dataclasses import replace

import pytest

from coldbench.bench import load_bench, open_sealed, seal
from coldbench.errors import InputError
from coldbench.worksheet.bench_session import BenchSession, journal_lines, open_bench_session
from coldbench.worksheet.circuit_bench import expected_at
from coldbench.worksheet.entries import LONGEST_TEXT, Entry, Owner
from coldbench.worksheet.journal import Journal
from coldbench.worksheet.kinds.journal import sift

FAULT = ["K1:coil_open"]


@pytest.fixture(scope="module")
def sealed_file(tmp_path_factory):
    path = tmp_path_factory.mktemp("sealed") / "bench-7.sealed"
    path.write_bytes(seal(load_bench("blue"), FAULT, ["full cooling", "off"]))
    return path


@pytest.fixture(params=["model", "sealed"])
def bench(request, tmp_path, sealed_file):
    """A bench with a dead relay, from the model and from a sealed file."""
    journal = Journal(tmp_path, Owner("term", "bench", "ml-07"))
    if request.param == "sealed":
        return open_bench_session(sealed_file, "full cooling", journal=journal)
    return open_bench_session("blue", "full cooling", FAULT, journal=journal)


def entries(bench) -> tuple[Entry, ...]:
    return bench.journal.entries


def work(bench) -> None:
    """A little of everything."""
    bench.look()
    bench.gauges()
    bench.pipe("suction line")
    bench.vent("left")
    bench.anemometer("condenser")
    bench.meter("volts", 15, 16)
    bench.meter("ohms", 15, 16)  # refused
    bench.meter("amps", "K1.87", "M1.plus")
    bench.clamp("M2")
    bench.lamp(3)
    bench.scope("BM.out")
    bench.codes()
    bench.live()
    bench.actuate("fans low")
    bench.substitute("pressure", 1000.0)
    bench.gauges()
    bench.substitute("pressure", None)
    bench.set_state("off")
    bench.recover()
    bench.leak_search()
    bench.sight_glass()
    bench.unplug("K1")
    bench.meter("ohms", "K1.86", "K1.85")
    bench.plug("K1")
    bench.meter("volts", "K1.87a")  # wanders
    bench.replace("K1")
    bench.confirm()
    bench.set_state("full cooling")
    bench.gauges()


def test_each_use_is_printed_with_its_minutes_and_written_down(bench, capsys):
    bench.gauges()
    said = capsys.readouterr().out
    assert said.startswith("gauges, full cooling: high-side gauge ") and "(5 min)" in said
    high, low = entries(bench)
    assert (high.instrument, high.arguments, high.settings) == (
        "gauges", {"reading": "gauge high"}, {"state": "full cooling"})
    assert (high.unit, high.uncertainty, high.minutes, low.minutes) == ("kPa", 40.0, 5.0, 0.0)
    assert low.reading % 5 == 0 and high.reading > low.reading


def test_everything_in_the_journal_is_worked_out_again(bench):
    work(bench)
    written = entries(bench)
    assert sum(entry.minutes for entry in written) == bench.minutes
    good, impossible = sift(written, bench.expected)
    assert not impossible, impossible[0]
    assert len(good) == len(written) >= 30
    assert {entry.instrument for entry in written} >= {
        "look", "gauges", "voltmeter", "ohmmeter", "ammeter", "replace", "confirm", "sensor box"}


def test_a_made_up_reading_is_found_out(bench):
    work(bench)
    for entry in entries(bench):
        if entry.reading is None:
            wrong = replace(entry, reading=1.0, unit="V")
        elif isinstance(entry.reading, str):
            wrong = replace(entry, reading=entry.reading + " or so")
        else:
            wrong = replace(entry, reading=entry.reading + 2.1 * entry.uncertainty + 0.1)
        assert sift([wrong], bench.expected) == ([], [wrong])


@pytest.mark.parametrize("change", [
    {"instrument": "crystal ball"}, {"arguments": {"red": "Z9", "black": "B.minus"}},
    {"arguments": {"hammer": 1}}, {"settings": {"state": "flying"}}, {"settings": {}},
    {"settings": {"state": "off", "bench": "bench B"}},
    {"settings": {"state": "off", "unplugged": ["Z9"]}}])
def test_an_entry_of_another_world_is_none_of_this_bench(bench, change):
    bench.meter("volts", 15, 16)
    with pytest.raises(InputError):
        bench.expected(replace(entries(bench)[0], **change))


def test_a_refusal_is_written_down_with_its_caution(bench, capsys):
    taken = bench.meter("ohms", 15, 16)
    assert taken.refused and "✗ ohmmeter" in capsys.readouterr().out
    entry, = entries(bench)
    assert entry.refused and "before the ohmmeter" in entry.note and entry.minutes == 0.0
    assert bench.expected(entry) is None


def test_what_a_learner_mistypes_is_said_and_not_written_down(bench, capsys):
    for use in (lambda: bench.pipe("roof"), lambda: bench.meter("hertz", 1, 2),
                lambda: bench.meter(), lambda: bench.set_state("flying"),
                lambda: bench.substitute("oil", 3), lambda: bench.replace("flux")):
        use()
        assert capsys.readouterr().out.startswith("✗ ")
    assert not entries(bench) and bench.state == "full cooling"


def test_a_panel_on_the_session_writes_into_the_same_journal(bench):
    bench.session.gauges()
    assert len(entries(bench)) == 2


def test_benches_with_names_are_told_apart(tmp_path, sealed_file):
    journal = Journal(tmp_path, Owner("term", "bench", "ml-07"))
    one = open_bench_session("blue", "full cooling", journal=journal, name="bench A")
    two = open_bench_session(sealed_file, "full cooling", journal=journal, name="bench B")
    one.gauges()
    two.clamp("M1")
    assert sift(journal.entries, expected_at(one, two)) == (list(journal.entries), [])
    with pytest.raises(InputError):
        one.expected(journal.entries[-1])


def test_long_words_fill_several_lines_that_a_journal_takes(bench):
    taken = bench.live()
    lines = list(journal_lines(taken))
    assert len(lines) > 1 and all(len(line.reading) <= LONGEST_TEXT for line in lines)
    assert "; ".join(line.reading for line in lines) == taken.said
    assert [line.minutes for line in lines] == [taken.minutes, *[0.0] * (len(lines) - 1)]


def test_a_sealed_bench_takes_no_faults_and_a_missing_one_is_told(sealed_file, tmp_path):
    with pytest.raises(InputError, match="is sealed"):
        open_bench_session(sealed_file, faults=FAULT)
    with pytest.raises(InputError, match=r"none\.sealed cannot be read"):
        open_bench_session("none.sealed", folder=tmp_path)
    with pytest.raises(InputError, match="no bench 'green'"):
        open_bench_session("green")


def test_a_file_beside_the_notebook_is_found(sealed_file):
    found = open_bench_session(sealed_file.name, folder=sealed_file.parent)
    assert isinstance(found, BenchSession) and found.states == ("full cooling", "off")
    assert found.session.outfit == open_sealed(sealed_file).outfit
