"""The numbers a lab's text gives to its learners, worked out again.

The text is compared with the package's own tables; those are compared with published ones in
tests/reference.
"""

import re
from pathlib import Path

import pytest

from coldbench.air import standard_atmosphere_pressure
from coldbench.refrigerant import fluid

TEXT = " ".join((Path(__file__).resolve().parents[2] / "source/pressure-temperature"
                 / "pressure-temperature.md").read_text(encoding="utf-8").split())
PSI_kPa, AIR_kPa = 6.894757, 91.0  # the garage at 900 m of every example


def air(altitude_m):
    return standard_atmosphere_pressure(altitude_m) / 1e3


def dew_C(name, absolute_kPa):
    return fluid(name).dew_temperature(absolute_kPa * 1e3) - 273.15


def bubble_C(name, absolute_kPa):
    return fluid(name).bubble_temperature(absolute_kPa * 1e3) - 273.15


def dew_kPa(name, temperature_C):
    return fluid(name).dew_pressure(temperature_C + 273.15) / 1e3


def bubble_kPa(name, temperature_C):
    return fluid(name).bubble_pressure(temperature_C + 273.15) / 1e3


def kPa_per_kelvin(temperature_C):
    return dew_kPa("R-134a", temperature_C + 0.5) - dew_kPa("R-134a", temperature_C - 0.5)


SAID = [  # what the text says with a number in { }, and that number worked out
    ("four fifths of the way: 95.5 − 0.8 × 5.6 = **{91.0} kPa**", air(900)),
    ("is 150 + 91.0 = **{241} kPa**", 150 + AIR_kPa),
    ("a quarter of a degree colder: **{−5.3} °C**", dew_C("R-134a", 241)),
    ("looks up 150 kPa reads {−17} °C", dew_C("R-134a", 150)),
    ("−7 °C in that garage. The chart gives about {225} kPa", dew_kPa("R-134a", -7)),
    ("225 − 91 = **{134} kPa**", dew_kPa("R-134a", -7) - AIR_kPa),
    ("chart of R-1234yf gives {184} kPa absolute", dew_kPa("R-1234yf", -15)),
    ("184 − 91 = {93} kPa", dew_kPa("R-1234yf", -15) - AIR_kPa),
    ("1.0 − (−5.3) = **{6.3} K**", 1.0 - dew_C("R-134a", 241)),
    ("and the chart gives {39.1} °C", bubble_C("R-134a", 991)),
    ("39.1 − 34.5 = **{4.6} K**", bubble_C("R-134a", 991) - 34.5),
    ("1 psi = {6.895} kPa", PSI_kPa),
    ("20 × 6.895 = {138} kPa", 20 * PSI_kPa),
    ("plus 91 kPa of air is {229} kPa", 20 * PSI_kPa + AIR_kPa),
    ("The chart gives {−6.6} °C", dew_C("R-134a", 229)),
    ("which is {20.1} °F", dew_C("R-134a", 229) * 1.8 + 32),
    ("12.9 / 1.8 = **{7.2} K**", (33 - 32) / 1.8 - dew_C("R-134a", 229)),
    ("low side: bubble {−13.3} °C", bubble_C("R-407C", 360)),
    ("dew {−6.8} °C. The suction", dew_C("R-407C", 360)),
    ("−1.0 − (−6.8) = **{5.8} K**", -1.0 - dew_C("R-407C", 360)),
    ("wrong column you would get {12.3} K", -1.0 - bubble_C("R-407C", 360)),
    ("900 m: chart {443} kPa", bubble_kPa("R-134a", 12)),
    ("443 − 91 = {352} kPa", bubble_kPa("R-134a", 12) - AIR_kPa),
    ("470 kPa: {118} kPa too much", 470 - (bubble_kPa("R-134a", 12) - AIR_kPa)),
    ("so {681} kPa absolute. At 10", 590 + AIR_kPa),
    *((f"{name} {{{said}}}", bubble_kPa(name, 10)) for name, said in
      (("R-152a", 373), ("R-134a", 415), ("R-22", 681), ("R-410A", 1088), ("R-744", 4502))),
    *((f"{name} ({{{said}}} kPa)", bubble_kPa(name, 20)) for name, said in
      (("R-12", 566), ("R-134a", 572), ("R-1234yf", 592))),
    ("changes by about {9} kPa for each kelvin", kPa_per_kelvin(-5)),
    ("one kelvin is worth {33} kPa", kPa_per_kelvin(50)),
    ("15 / 9 = ± {1.7} K", 15 / kPa_per_kelvin(-5)),
    ("1.7 + 0.7 = ± {2.4} K", 15 / kPa_per_kelvin(-5) + 0.7),
    ("√(1.7² + 0.7²) = ± {1.8} K", ((15 / kPa_per_kelvin(-5)) ** 2 + 0.7**2) ** 0.5),
]


@pytest.mark.parametrize(("said", "worked_out"), SAID, ids=[said for said, _ in SAID])
def test_a_worked_example_comes_out_as_the_text_says(said, worked_out):
    assert said.replace("{", "").replace("}", "") in TEXT
    number = re.search(r"{(.+)}", said)[1].replace("−", "-")
    decimals = len(number.partition(".")[2])
    # a step with rounded numbers may end one in the last place away
    assert abs(worked_out - float(number)) < 1.0 * 10**-decimals


@pytest.mark.parametrize(("head", "row", "rule"), [
    ("altitude, m", "air, kPa", air),
    ("°C", "kPa", lambda temperature_C: dew_kPa("R-134a", temperature_C)),
])
def test_a_table_holds_the_rounded_values(head, row, rule):
    cells = rf"\| {re.escape(head)} \|([^a-z]*)\| {re.escape(row)} \|([\d. |]*)\|"
    given, values = (part.replace("−", "-").replace("-|", "").replace("--|", "")
                     for part in re.search(cells, TEXT).groups())
    given = [float(x) for x in re.findall(r"-?\d+", given)]
    values = re.findall(r"[\d.]+", values)
    assert len(given) == len(values) >= 7
    for x, value in zip(given, values, strict=True):
        assert f"{rule(x):.{len(value.partition('.')[2])}f}" == value


@pytest.mark.parametrize("altitude_m", [1500, 2000, 2500])
def test_the_sea_shores_air_errs_as_much_as_the_text_says(altitude_m):
    def error_K(temperature_C):
        absolute_kPa = dew_kPa("R-134a", temperature_C)
        return dew_C("R-134a", absolute_kPa - air(altitude_m) + air(0)) - temperature_C

    assert "by half a degree to one degree on the high side" in TEXT
    assert "one and a half to nearly three degrees on the low side" in TEXT
    assert all(0.4 < error_K(t) < 1.0 for t in (42, 60))
    assert all(1.35 < error_K(t) < 3.0 for t in (-6, 4))
