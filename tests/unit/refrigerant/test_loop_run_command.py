"""`coldbench loop --seconds` in this process: the table, the series, refusals."""

import json

import pytest

from coldbench.cli import main
from coldbench.refrigerant.loop import Conditions
from coldbench.refrigerant.loop.transient import Cycling, simulate


def run(capsys, *words: str) -> tuple[int, str, str]:
    """Run `coldbench loop`; exit status, standard output, standard error."""
    with pytest.raises(SystemExit) as leaving:
        main(["loop", *words])
    out, err = capsys.readouterr()
    return leaving.value.code or 0, out, err


def test_json_gives_series_and_events_of_the_same_run(capsys):
    status, out, err = run(capsys, "--seconds", "40", "--ambient", "20 degC", "--intake",
                           "15 degC", "--json")
    assert (status, err) == (0, "")
    found = json.loads(out)
    same = simulate(Conditions(ambient_K=293.15, intake_K=288.15), 40.0, clutch=Cycling())
    series = found["series"]
    assert {len(column) for column in series.values()} == {len(same.time_s)}
    for key, values in (("high_side_gauge_kPa", same.high_side_gauge_kPa),
                        ("coil_temperature_degC", same.coil_temperature_K - 273.15),
                        ("compressor_flow_g_s", same.compressor_flow_kg_per_s * 1e3),
                        ("low_side_charge_g", same.low_side_charge_kg * 1e3),
                        ("superheat_K", same.superheat_K)):
        assert series[key] == pytest.approx(list(values), abs=1e-4)
    assert set(series["clutch_on"]) == {True, False}
    assert [(e["time_s"], e["words"]) for e in found["events"]] == [tuple(e) for e in same.events]


def test_text_shows_the_needles_part_and_what_happened(capsys):
    status, text, _ = run(capsys, "--seconds", "9", "--fault", "belt-slip", "--valve-angle", "90")
    lines = text.splitlines()
    assert status == 0 and lines[0] == "R134a loop, 9 s from rest" and "belt-slip" in lines[1]
    rows = [line for line in lines if line.rstrip().endswith((" on", " off")) and "kPa" in line]
    assert len(rows) == 10 and rows[0].count("669 kPa") == 2
    assert "clutch engages" in text and "low side at" in text
    assert max(map(len, lines)) <= 80


def test_a_long_run_still_fits_one_screen(capsys):
    from coldbench.cli.loop_run import _times

    for end in (0.3, 1.0, 12.5, 100.0, 600.0, 7200.0):
        times = _times(end)
        assert times[0] == 0.0 and times[-1] == end and len(times) <= 14
        assert times == sorted(set(times))


@pytest.mark.parametrize("seconds, told", [
    ("0", "--seconds 0 s must be above 0 and at most 7200 s"),
    ("9000", "--seconds 9000 s must be above 0 and at most 7200 s"),
    ("nan", "--seconds must be a finite number"),
    ("long", "--seconds")])
def test_a_time_that_is_none_is_refused_in_one_sentence(seconds, told, capsys):
    status, out, err = run(capsys, "--seconds", seconds)
    assert status == 2 and not out and told in err and "Traceback" not in err


def test_an_unknown_fault_is_refused(capsys):
    status, out, err = run(capsys, "--seconds", "5", "--fault", "gremlins")
    assert status == 2 and not out and "gremlins" in err and "undercharge" in err
