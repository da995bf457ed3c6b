"""`coldbench pt` in this process: answers, refusals, pocket charts."""

import json
import re

import pytest

from coldbench.cli import main
from coldbench.cli.pocket_table import MOST_ROWS, chart_table
from coldbench.refrigerant import FLUIDS, fluid

KEYS = ["fluid", "temperature_degC", "bubble_pressure_kPa_abs", "dew_pressure_kPa_abs",
        "bubble_pressure_kPa_gauge", "dew_pressure_kPa_gauge", "atmosphere_kPa", "altitude_m",
        "safety_class"]


def run(capsys, *words: str) -> tuple[int, str, str]:
    """Run `coldbench pt`; exit status, standard output, standard error."""
    with pytest.raises(SystemExit) as leaving:
        main(["pt", *words])
    out, err = capsys.readouterr()
    return leaving.value.code or 0, out, err


def answer(capsys, *words: str) -> dict:
    """Run `coldbench pt --json` and read the answer."""
    status, out, err = run(capsys, *words, "--json")
    assert (status, err) == (0, "")
    return json.loads(out)


def test_json_of_a_pure_fluid(capsys):
    found = answer(capsys, "R-134a", "--temperature", "32 °F", "--altitude", "2250 m")
    assert list(found) == KEYS
    assert (found["fluid"], found["safety_class"], found["altitude_m"]) == ("R134a", "A1", 2250.0)
    assert found["temperature_degC"] == pytest.approx(0.0, abs=1e-6)
    # Computed: R-134a at 0 degC and 2250 m (Tillner-Roth and Baehr 1994; ISO 2533).
    assert found["bubble_pressure_kPa_gauge"] == pytest.approx(215.74, abs=0.01)
    assert found["bubble_pressure_kPa_abs"] == found["dew_pressure_kPa_abs"]


@pytest.mark.parametrize("words", [
    ("--gauge-pressure", "200 kPa"), ("--gauge-pressure", "2,0 bar"),
    ("--gauge-pressure", "29.0075 psi"), ("--absolute-pressure", "301.325 kPa"),
])
def test_pressure_options_agree(words, capsys):
    found = answer(capsys, "R134a", *words)
    # CoolProp 8, R-134a at 301.325 kPa: 0.79444 degC.
    assert found["temperature_degC"] == pytest.approx(0.79444, abs=1e-4)
    assert found["dew_pressure_kPa_gauge"] == pytest.approx(200.0, abs=1e-3)


def test_the_round_trip_through_the_command(capsys):
    there = answer(capsys, "R1234yf", "--temperature", "25 degC", "--barometer", "84 kPa")
    back = answer(capsys, "R1234yf", "--barometer", "84 kPa", "--gauge-pressure",
                  f"{there['dew_pressure_kPa_gauge']} kPa")
    assert back["temperature_degC"] == pytest.approx(25.0, abs=1e-5)
    assert (back["altitude_m"], back["atmosphere_kPa"]) == (None, 84.0)


def test_a_blend_has_two_temperatures_at_a_pressure(capsys):
    found = answer(capsys, "R407C", "--gauge-pressure", "5 bar")
    assert "temperature_degC" not in found
    assert 5.0 < found["dew_temperature_degC"] - found["bubble_temperature_degC"] < 7.0
    assert found["dew_pressure_kPa_gauge"] == found["bubble_pressure_kPa_gauge"] == 500.0


def test_a_blend_has_two_pressures_at_a_temperature(capsys):
    found = answer(capsys, "R407C", "--temperature", "0 degC")
    assert found["temperature_degC"] == 0.0
    assert found["bubble_pressure_kPa_abs"] > found["dew_pressure_kPa_abs"] + 100.0


def test_text_marks_a_vacuum_in_words(capsys):
    status, out, err = run(capsys, "R134a", "--temperature", "-40 degC")
    assert (status, err) == (0, "")
    assert "vacuum: 14.8 inHg vac" in out and "safety class A1" in out
    assert "vacuum" not in run(capsys, "R134a", "--temperature", "0 degC")[1]


@pytest.mark.parametrize(("words", "say"), [
    (("R999", "--temperature", "0 degC"), "no refrigerant 'R999'; accepted: R-134a"),
    (("R134a",), "exactly one of --temperature, --gauge-pressure and --absolute-pressure"),
    (("R134a", "--temperature", "0 degC", "--gauge-pressure", "1 bar"),
     "got --temperature and --gauge-pressure"),
    (("R134a", "--temperature", "200 degC"), "-103.15 to 100.05 degC"),
    (("R744", "--temperature", "35 degC"), "above its critical point (30.98 degC)"),
    (("R134a", "--absolute-pressure", "9 MPa"), "above its critical point (4059.3 kPa)"),
    (("R134a", "--gauge-pressure", "-2 bar"), "below full vacuum"),
    (("R134a", "--gauge-pressure", "-1.01325 bar"), "R-134a at 0 kPa absolute"),
    (("R134a", "--temperature", "5"), "--temperature: '5' has no unit; accepted"),
    (("R134a", "--temperature", "nan degC"), "finite number"),
    (("R134a", "--gauge-pressure", "30 psia"), "'psia' is an absolute pressure"),
    (("R134a", "--temperature", "0 degC", "--altitude", "20 km"), "outside -2000 to 11000 m"),
    (("R134a", "--temperature", "0 degC", "--altitude", "1,600 m"), "could mean 1600 or 1.6"),
    (("R134a", "--temperature", "0 degC", "--barometer", "0.84 kPa"), "outside 22 to 128 kPa"),
    (("R134a", "--temperature", "0 degC", "--altitude", "0 m", "--barometer", "1 bar"),
     "--altitude or --barometer, not both"),
    (("R134a", "--temperature", "0 degC", "--units", "bar"), "belong to --chart"),
    (("R134a", "--chart", "a.pdf", "--json"), "leave out --json"),
    (("R134a", "--chart", "a.pdf", "--temperature", "0 degC"), "leave out --temperature"),
    (("R134a", "--chart", "a.doc"), "must end in .pdf, .svg or .png"),
    (("R134a", "--chart", "a.pdf", "--units", "inHg vac"), "accepted: kPa, psig, bar, MPa"),
    (("R134a", "--chart", "a.pdf", "--units", "psia"), "is an absolute pressure"),
    (("R134a", "--chart", "a.pdf", "--units", ""), "--units"),
    (("R134a", "--chart", "a.pdf", "--temperature-unit", "K"), "accepted: degC, degF"),
    (("R134a", "--chart", "missing/a.pdf"), "cannot be written (No such file or directory)"),
])
def test_bad_input_is_one_sentence(words, say, capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    status, out, err = run(capsys, *words)
    assert (status, out) == (2, "")
    assert say in err and err.count("\n") == 1 and "Traceback" not in err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(("form", "start"), [("pdf", b"%PDF-"), ("svg", b"<?xml"),
                                             ("PNG", b"\x89PNG")])
def test_a_chart_is_written_and_repeatable(form, start, capsys, tmp_path):
    paths = [tmp_path / f"{name}.{form}" for name in ("one", "two")]
    for path in paths:
        status, out, err = run(capsys, "R134a", "--chart", str(path), "--units", "psi",
                               "--temperature-unit", "degF", "--altitude", "1600 m")
        assert (status, err) == (0, "") and str(path) in out
    first, second = (path.read_bytes() for path in paths)
    assert first.startswith(start) and first == second


def test_an_svg_chart_has_title_description_and_real_text(capsys, tmp_path):
    path = tmp_path / "chart.svg"
    run(capsys, "R407C", "--chart", str(path))
    text = path.read_text(encoding="utf-8")
    assert '<title id="chart-title">R-407C pressure and temperature' in text
    assert "vacuum" in re.search("<desc.*?</desc>", text, re.DOTALL).group()
    assert ">bubble</text>" in text and ">dew</text>" in text and "Caution" in text


def test_a_chart_uses_no_colour(capsys, tmp_path):
    path = tmp_path / "chart.svg"
    run(capsys, "R407C", "--chart", str(path))
    for red, green, blue in re.findall(r"#(\w\w)(\w\w)(\w\w)\b", path.read_text("utf-8")):
        assert red == green == blue


@pytest.mark.parametrize("unit", ["kPa", "psi", "bar", "MPa"])
@pytest.mark.parametrize("scale", ["degC", "degF"])
@pytest.mark.parametrize("name", FLUIDS)
def test_chart_rows_follow_the_saturation_curve(name, unit, scale):
    substance = fluid(name)
    table = chart_table(substance, unit, scale, 84e3, None)
    assert 10 < len(table.rows) <= MOST_ROWS
    assert len(table.columns) == (2 if substance.has_glide else 1)
    size_Pa = {"kPa": 1e3, "psi": 6894.757, "bar": 1e5, "MPa": 1e6}[unit]
    for row in table.rows:
        t = row.temperature
        temperature_K = t + 273.15 if scale == "degC" else (t + 459.67) / 1.8
        gauge_Pa = substance.bubble_pressure(temperature_K) - 84e3
        shown = float(row.pressures[0].replace("\u2212", "-"))
        assert row.vacuum[0] is (gauge_Pa < 0.0)
        if unit == "psi" and gauge_Pa < 0.0:
            shown, size = -shown, 3386.389
        else:
            size = size_Pa
        digits = len(row.pressures[0].partition(".")[2])
        assert shown * size == pytest.approx(gauge_Pa, abs=0.51 * size * 10**-digits)
