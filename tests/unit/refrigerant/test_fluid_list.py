"""The list of refrigerants: seeded errors are caught with file, key and reason."""

from importlib import resources

import pytest

from coldbench.errors import InputError
from coldbench.refrigerant.records import RECORDS, load_records

TEXT = resources.files("coldbench.refrigerant").joinpath("fluids.toml").read_text("utf-8")


@pytest.mark.parametrize(("old", "new", "words"), [
    ('safety_class = "A2L"', 'safety_class = "B9"', "fluid.R1234yf: safety_class must be one of"),
    ("R32 = 0.50", "R32 = 0.51", "fluid.R410A: mass_fractions must add up to 1"),
    ("R32 = 0.50", 'R32 = "0.50"', "each of mass_fractions must be a number"),
    ('also = ["HFC-134a"]', "", "fluid.R134a: lacks 'also'"),
    ('also = ["HFC-134a"]', 'also = ["R-12"]', "already names another fluid"),
    ('also = ["HFC-134a"]', 'also = "HFC-134a"', "also must be of type list"),
    ('also = ["HFC-134a"]', 'also = []\nprice = 3', "unknown key 'price'"),
    ("lowest_temperature_K = 216.592", "lowest_temperature_K = 210.0", "temperatures must rise"),
    ("critical_pressure_Pa = 7.3773e6", "critical_pressure_Pa = -1.0", "must be above 0"),
    ("[fluid.R12]", "[fluid.R12", "not valid TOML"),
])
def test_seeded_errors(old, new, words):
    assert old in TEXT
    with pytest.raises(InputError) as caught:
        load_records(TEXT.replace(old, new, 1))
    assert words in str(caught.value) and str(caught.value).startswith("fluids.toml: ")


@pytest.mark.parametrize(("name", "safety_class"), [
    # ASHRAE 34 / ISO 817 safety classes as published.
    ("R134a", "A1"), ("R744", "A1"), ("R1234yf", "A2L"), ("R152a", "A2"),
    ("R12", "A1"), ("R22", "A1"), ("R32", "A2L"),  # ASHRAE 34, from memory
    ("R410A", "A1"), ("R407C", "A1"), ("R404A", "A1"),  # ASHRAE 34, from memory
])
def test_safety_classes(name, safety_class):
    assert RECORDS[name].safety_class == safety_class
