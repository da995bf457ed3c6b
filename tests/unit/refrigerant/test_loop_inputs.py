"""What the loop refuses: conditions, faults, files of parts and faults; one sentence each."""

import math
from importlib import resources

import pytest

from coldbench.errors import InputError
from coldbench.refrigerant.loop import Conditions, fault, fault_kinds, load_parts, solve_loop
from coldbench.refrigerant.loop.faults import effects, load_faults

DATA = resources.files("coldbench.refrigerant.loop").joinpath("data")
PARTS = DATA.joinpath("blue.toml").read_text("utf-8")
FAULTS = DATA.joinpath("faults.toml").read_text("utf-8")


@pytest.mark.parametrize(("field", "value", "said"), [
    ("intake_humidity", 1.3, "intake_humidity 130 % is outside 0 to 100 %"),
    ("charge", -1.0, "charge -100 % is outside 20 to 150 %"),
    ("charge", 1.51, "charge 151 % is outside 20 to 150 %"),
    ("ambient_K", 363.15, "ambient_K 90 degC is outside 5 to 55 degC"),
    ("intake_K", 270.0, "intake_K -3.15 degC is outside 5 to 55 degC"),
    ("blower", 2, "blower 200 % is outside 0 to 100 %"),
    ("valve_angle_deg", 91, "valve_angle_deg 91 degrees is outside 0 to 90 degrees"),
    ("speed_rpm", 100, "speed_rpm 100 rpm is outside 500 to 5000 rpm (or 0 rpm: at rest)"),
    ("atmosphere_Pa", 20e3, "atmosphere_Pa 20 kPa is outside 60 to 110 kPa"),
    ("condenser_fan", "fast", "condenser_fan 'fast' is unknown; accepted: off, low, high"),
    ("fluid", "R-22", "fluid 'R-22' cannot run in this loop; accepted: R134a, R1234yf, R152a"),
    ("blower", math.nan, "blower must be a finite number, not nan"),
    ("charge", "full", "charge must be a finite number, not 'full'"),
    ("blower", True, "blower must be a finite number, not True"),
    ("clutch_engaged", 1, "clutch_engaged must be True or False, not 1"),
])
def test_impossible_conditions(field, value, said):
    with pytest.raises(InputError) as refusal:
        Conditions(**{field: value})
    assert str(refusal.value) == said


@pytest.mark.parametrize(("wrong", "said"), [
    ("rust", "no fault 'rust'; accepted: undercharge, overcharge"),
    ("overcharge=2", "severity 2 of fault 'overcharge' is outside 0 to 1"),
    ("overcharge=-0.1", "severity -0.1 of fault 'overcharge' is outside 0 to 1"),
    ("overcharge=much", "severity 'much' of fault 'overcharge' is not a number"),
    ("overcharge=nan", "severity of overcharge must be a finite number"),
    (("overcharge", None), "severity of overcharge must be a finite number"),
    (7, "a fault is written as NAME or NAME=SEVERITY, not 7"),
])
def test_impossible_faults(wrong, said):
    with pytest.raises(InputError) as refusal:
        solve_loop(faults=[wrong])
    assert str(refusal.value).startswith(said)


@pytest.mark.parametrize("wrong", ["overcharge", {"overcharge": 1.0}, fault("overcharge")])
def test_faults_are_a_list(wrong):
    with pytest.raises(InputError, match="faults must be a list of faults"):
        effects(wrong)
    with pytest.raises(InputError):
        solve_loop(faults=wrong)


def test_a_fault_given_twice():
    with pytest.raises(InputError, match="'belt-slip' is given twice"):
        solve_loop(faults=["belt-slip=0.1", "belt-slip=0.2"])


def test_several_faults_combine():
    both = effects(["condenser-blocked=1", "belt-slip=1", "air-in-system=0.5"])
    assert both.condenser_airflow_factor == pytest.approx(0.2)
    assert both.speed_factor == pytest.approx(0.4) and both.air_kg == pytest.approx(2e-3)


@pytest.mark.parametrize(("old", "new", "said"), [
    ("displacement_m3 = 1.10e-4", "displacement_m3 = -1", "compressor: displacement_m3 must be a "
     "number above 0, not -1"),
    ("displacement_m3 = 1.10e-4", "", "compressor: lacks 'displacement_m3'"),
    ("displacement_m3", "size_m3 = 1.0\ndisplacement_m3", "compressor: unknown key 'size_m3'"),
    ("[evaporator]", "[boiler]", "lacks the table [evaporator]"),
    ("[evaporator]", "[engine]\n[evaporator]", "unknown table [engine]"),
    ("subcool_share = 0.10", "subcool_share = 1.5", "condenser: subcool_share must be at most 1"),
    ("[evaporator]", "[evaporator", "not valid TOML"),
    ("R134a = 0.58", 'R134a = "much"', "charge_kg: R134a must be a number above 0"),
])
def test_damaged_files_of_parts(old, new, said):
    assert old in PARTS
    with pytest.raises(InputError) as refusal:
        load_parts(PARTS.replace(old, new, 1), "mine.toml")
    assert str(refusal.value).startswith("mine.toml: ") and said in str(refusal.value)


@pytest.mark.parametrize(("old", "new", "said"), [
    ('law = "linear"', 'law = "cubic"', "law must be one of linear, geometric"),
    ('effect = "charge_factor"', 'effect = "mood"', "effect 'mood' is none the loop knows"),
    ("usual = 0.8", "usual = 1.8", "usual must be from 0 to 1"),
    ("at_full = 0.3", 'at_full = "low"', "at_full must be a number of 0 or more"),
    ("usual = 0.8", "", "lacks 'usual'"),
    ("usual = 0.8", "usual = 0.8\ncolour = 1", "unknown key 'colour'"),
    ('title = "Refrigerant has leaked out"', 'title = ""', "title must be words"),
    ("[fault.undercharge]", "[other]\n[fault.undercharge]", "wants tables [fault.<name>] only"),
])
def test_damaged_catalogues_of_faults(old, new, said):
    assert old in FAULTS
    with pytest.raises(InputError) as refusal:
        load_faults(FAULTS.replace(old, new, 1), "mine.toml")
    assert said in str(refusal.value)


def test_the_catalogue_is_for_people():
    for kind in fault_kinds().values():
        assert kind.title[0].isupper() and not kind.title.endswith(".")
        assert "severity" in kind.scale or "above" in kind.scale or "share" in kind.scale
