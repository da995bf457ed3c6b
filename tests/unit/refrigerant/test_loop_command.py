"""`coldbench loop` in this process: answers, the list of faults, refusals."""

import json

import pytest

from coldbench.cli import main
from coldbench.refrigerant.loop import Conditions, fault_kinds, solve_loop

KEYS = ["high_side_gauge_kPa", "low_side_gauge_kPa", "superheat_K", "subcooling_K",
        "discharge_temperature_degC", "liquid_line_temperature_degC",
        "after_valve_temperature_degC", "evaporator_inlet_temperature_degC",
        "suction_temperature_degC", "vent_temperature_degC", "condensate_g_h", "mass_flow_g_s",
        "capacity_W", "compressor_power_W", "cop", "receiver_level", "flags", "residuals"]


def run(capsys, *words: str) -> tuple[int, str, str]:
    """Run `coldbench loop`; exit status, standard output, standard error."""
    with pytest.raises(SystemExit) as leaving:
        main(["loop", *words])
    out, err = capsys.readouterr()
    return leaving.value.code or 0, out, err


def answer(capsys, *words: str) -> dict:
    """Run `coldbench loop --json` and read the answer."""
    status, out, err = run(capsys, *words, "--json")
    assert (status, err) == (0, "")
    return json.loads(out)


def test_json_of_the_healthy_bench(capsys):
    found, result = answer(capsys), solve_loop(Conditions())
    assert list(found) == KEYS
    assert found["high_side_gauge_kPa"] == pytest.approx(result.high_side_gauge_Pa / 1e3)
    assert found["flags"] == [] and found["residuals"]["mass"] < 1e-7
    assert found["mass_flow_g_s"] == pytest.approx(result.mass_flow_kg_per_s * 1e3)


def test_every_option_arrives(capsys):
    found = answer(capsys, "--fluid", "R-1234yf", "--ambient", "95 degF", "--intake", "25 degC",
                   "--humidity", "60", "--blower", "70 %", "--condenser-fan", "low", "--speed",
                   "1800 rpm", "--valve-angle", "60", "--charge", "90", "--altitude", "1600 m",
                   "--fault", "condenser-fouled=0.3", "--fault", "belt-slip")
    result = solve_loop(Conditions(
        fluid="R1234yf", ambient_K=308.15, intake_K=298.15, intake_humidity=0.6, blower=0.7,
        condenser_fan="low", speed_rpm=1800.0, valve_angle_deg=60.0, charge=0.9,
        atmosphere_Pa=83524.3), faults=["condenser-fouled=0.3", "belt-slip"])
    for key, value in (("high_side_gauge_kPa", result.high_side_gauge_Pa / 1e3),
                       ("low_side_gauge_kPa", result.low_side_gauge_Pa / 1e3),
                       ("condensate_g_h", result.condensate_kg_per_s * 3.6e6)):
        assert found[key] == pytest.approx(value, rel=1e-4)


@pytest.mark.parametrize("name", sorted(fault_kinds()))
def test_each_fault_has_an_answer(name, capsys):
    assert list(answer(capsys, "--fault", name)) == KEYS


def test_the_valve_shut_reads_a_vacuum(capsys):
    found = answer(capsys, "--valve-angle", "90")
    assert found["low_side_gauge_kPa"] < 0.0 and "low-pressure limit" in found["flags"]
    assert found["after_valve_temperature_degC"] < found["liquid_line_temperature_degC"] - 20.0


def test_the_list_of_faults(capsys):
    status, text, _ = run(capsys, "--faults")
    assert status == 0
    status, listed, _ = run(capsys, "--faults", "--json")
    for kind, found in zip(fault_kinds().values(), json.loads(listed), strict=True):
        assert kind.name in text and kind.scale in text
        assert (found["name"], found["usual_severity"]) == (kind.name, kind.usual)
        assert (found["least_severity"], found["most_severity"]) == (0.0, 1.0)


def test_text_for_people(capsys):
    status, text, _ = run(capsys, "--fault", "txv-stuck-closed=1", "--ambient", "30 degC")
    assert status == 0
    gauges = next(line for line in text.splitlines() if line.startswith("high side"))
    assert all(unit in gauges for unit in ("kPa", "bar", "psi"))
    assert "fault: txv-stuck-closed, severity 1" in text and "! low-pressure limit:" in text
    assert max(map(len, text.splitlines())) <= 100


@pytest.mark.parametrize(("words", "said"), [
    (("--humidity", "130"), "--humidity 130 % is outside 0 to 100 %"),
    (("--charge", "-1"), "--charge -1 % is outside 20 to 150 %"),
    (("--ambient", "90 degC"), "--ambient 90 degC is outside 5 to 55 degC"),
    (("--ambient", "30"), "--ambient: '30' has no unit"),
    (("--fault", "rust"), "no fault 'rust'; accepted: undercharge"),
    (("--fault", "overcharge=2"), "severity 2 of fault 'overcharge' is outside 0 to 1"),
    (("--speed", "100 rpm"), "--speed 100 rpm is outside 500 to 5000 rpm"),
    (("--valve-angle", "95"), "--valve-angle 95 degrees is outside 0 to 90 degrees"),
    (("--blower", "full"), "--blower: 'full' is not a ratio"),
    (("--condenser-fan", "fast"), "--condenser-fan 'fast' is unknown; accepted: off, low, high"),
    (("--fluid", "R-744"), "--fluid 'R-744' cannot run in this loop"),
    (("--barometer", "30 kPa"), "--barometer 30 kPa is outside 60 to 110 kPa"),
])
def test_bad_input_is_one_sentence_and_exit_2(words, said, capsys):
    status, out, err = run(capsys, *words, "--json")
    assert (status, out) == (2, "")
    assert err.startswith(f"coldbench: {said}") and err.count("\n") == 1
