"""Symptoms and instruments of bench files: read, checked, and borne out by readings."""

from types import SimpleNamespace

import pytest

from coldbench.bench import Measured, load_bench, parse_bench, read, shows, symptoms_shown
from coldbench.bench.symptoms import reading_units
from coldbench.errors import InputError

BLUE = load_bench("blue")


def with_lines(text):
    return parse_bench(f'name = "mine"\nlike = "blue"\n{text}', "mine.toml")


def symptom(reading="vent left", comparison="above", value=12.0, unit='"degC"', state="off"):
    given = f", unit = {unit}" if unit else ""
    return (f'[symptom.warm]\nstate = "{state}"\nwhen = [{{ reading = "{reading}", '
            f'comparison = "{comparison}", value = {value}{given} }}]')


def test_every_reading_is_known_beforehand_with_its_unit():
    units = reading_units(BLUE)
    seen = {}
    for state in BLUE.states:
        found = read(BLUE, state)
        seen |= {key: one.unit for key, one in found.values.items()}
    assert seen.items() <= units.items()
    assert {key for key in units if not key.startswith("code ")} <= seen.keys()


def test_codes_are_known_beforehand():
    found = read(BLUE, "full cooling", ["blend_left:jammed=0.3"])
    assert "code B1203" in found.values and "code B1203" in reading_units(BLUE)


def test_no_symptom_of_the_blue_bench_shows_without_a_fault():
    assert len(BLUE.symptoms) >= 8
    for state in {one.state for one in BLUE.symptoms.values()}:
        assert symptoms_shown(read(BLUE, state)) == ()


@pytest.mark.parametrize(("fault", "state", "wanted"), [
    ("CL:open", "full cooling", {"warm air at every vent", "compressor never engages"}),
    ("blend_left:jammed=0.5", "full cooling", {"warm on the left side only"}),
    ("blend_right:jammed=0.5", "full cooling", {"warm on the right side only"}),
    ("MB:open", "full cooling", {"no air from the vents"}),
    ("FM:blown", "key on", {"control head dead"}),
    ("recirculation:jammed=0.1", "recirculation", {"does not recirculate"}),
])
def test_faults_show_as_the_complaints_they_cause(fault, state, wanted):
    assert wanted <= set(symptoms_shown(read(BLUE, state, [fault])))


def test_a_reading_that_is_not_there_fulfils_no_condition():
    one = with_lines(symptom()).symptoms["warm"]
    assert not shows(one, SimpleNamespace(values={}))
    assert shows(one, SimpleNamespace(values={"vent left": Measured(12.5, "degC", 0.5, "")}))
    assert not shows(one, SimpleNamespace(values={"vent left": Measured(12.0, "degC", 0.5, "")}))


@pytest.mark.parametrize(("text", "words"), [
    (symptom(state="flying"), "symptom.warm: state: there is no state 'flying'"),
    (symptom(reading="vent middle"), "'vent middle'; there are vent left, vent right, vent flow"),
    (symptom(unit=""), "when 1: unit is missing; vent left is in degC"),
    (symptom(unit='"degF"'), "when 1: unit 'degF' does not fit; vent left is in degC"),
    (symptom(reading="clutch"), "when 1: unit 'degC' does not fit; clutch has no unit"),
    (symptom(comparison="over"), "comparison 'over' is unknown; accepted: above, below, equal to"),
    ("[symptom.warm]\nstate = 'off'\nwhen = []", "when must be a list with at least one table"),
    ("[instruments]\nleave_out = ['crystal ball']", "crystal ball"),
    ("[instruments.minutes]\nball = 3.0", "instruments: minutes: unknown key 'ball'"),
    ("[instruments.minutes]\ngauges = -1.0", "minutes.gauges = -1 is outside 0 to 600"),
])
def test_a_mistake_gets_one_sentence_with_file_key_and_reason(text, words):
    with pytest.raises(InputError) as refused:
        with_lines(text)
    assert str(refused.value).startswith("mine.toml: ") and words in str(refused.value)


def test_instruments_are_all_there_unless_the_file_says_otherwise():
    assert BLUE.instruments.leave_out == () and BLUE.instruments.minutes == {}
    mine = with_lines("[instruments]\nleave_out = ['gauges']\nminutes = { gauges = 7 }")
    assert mine.instruments.leave_out == ("gauges",)
    assert mine.instruments.minutes == {"gauges": 7.0}
