"""The unit table: its figures against pint's, its checks against seeded errors."""

import pytest

from coldbench.errors import InputError
from coldbench.quantity import KINDS
from coldbench.quantity.table import load_kinds

GOOD = '[kind.x]\nsi = "m"\nunit = [{name = "m", symbol = "m", factor = 1.0, decimals = 1}]\n'
# How pint spells the units whose names it does not share with the table.
PINT = {
    "psia": "psi", "psig": "psi", "inHg": "inch_Hg", "mmHg": "mmHg", "micron": "0.001 * mmHg",
    "kgf/cm2": "kgf/cm**2", "inH2O": "inch_H2O", "mmH2O": "kgf/m**2", "m2": "m**2",
    "cm2": "cm**2", "mm2": "mm**2", "in2": "in**2", "ft2": "ft**2", "Wh": "W*h", "kWh": "kW*h",
    "kJ/(kg K)": "kJ/kg/K", "J/(kg K)": "J/kg/K", "Btu/(lb R)": "Btu_it/lb/delta_degF",
    "kg/m3": "kg/m**3", "lb/ft3": "lb/ft**3", "m3/kg": "m**3/kg", "ft3/lb": "ft**3/lb",
    "m3": "m**3", "in3": "in**3", "ft3": "ft**3", "m3/h": "m**3/h", "m3/s": "m**3/s",
    "cfm": "ft**3/min", "rps": "2 * pi * rad/s", "N m": "N*m", "lbf ft": "lbf*ft",
    "uA": "uA", "%": "0.01", "degR": "degR", "1": "1",
    "Btu": "Btu_it", "Btu/h": "Btu_it/h", "Btu/lb": "Btu_it/lb",
}


@pytest.fixture(scope="module")
def registry():
    import pint

    return pint.UnitRegistry()


@pytest.mark.parametrize("kind", KINDS)
def test_factors_agree_with_pint(kind, registry):
    # pint 0.25, default registry (CODATA and NIST SP 811 figures).
    base = PINT.get(KINDS[kind].si, KINDS[kind].si)
    for unit in KINDS[kind].units:
        vacuum = unit.name.endswith(" vac")
        name = unit.name.removesuffix(" vac")
        if unit.name in ("degC", "degF"):
            name = f"delta_{unit.name}"
        expected = registry.Quantity(1.0, "") * registry(PINT.get(name, name))
        expected = expected.to(base if base != "1" else "").magnitude
        assert unit.factor == pytest.approx(-expected if vacuum else expected, rel=1e-7), unit


@pytest.mark.parametrize("degrees", [-40.0, 0.0, 100.0])
@pytest.mark.parametrize("unit", KINDS["temperature"].units, ids=lambda unit: unit.name)
def test_temperature_offsets_agree_with_pint(unit, degrees, registry):
    # pint 0.25, default registry.
    expected = registry.Quantity(degrees, unit.name).to("K").magnitude
    assert unit.factor * degrees + unit.offset == pytest.approx(expected, rel=1e-12)


def test_difference_kind_has_no_offsets():
    assert all(u.offset == 0.0 for u in KINDS["temperature difference"].units)


@pytest.mark.parametrize(("text", "words"), [
    ("[kind", "not valid TOML"), ("[other.x]", "and nothing else"),
    (GOOD.replace("decimals = 1", "decimal = 1"), "lacks 'decimals'"),
    (GOOD.replace("decimals = 1", "decimals = 1, colour = 1"), "unknown key 'colour'"),
    (GOOD.replace("factor = 1.0", "factor = 0.0"), "must not be zero"),
    (GOOD.replace("factor = 1.0", "factor = true"), "must be of type float"),
    (GOOD.replace("factor = 1.0", "factor = 2.0"), "no unit named 'm' with factor 1"),
    (GOOD + '[[kind.x.refused]]\nspellings = ["m"]\nbecause = "x"\n', "means both"),
    (GOOD + "minimum = \"0\"\n", "minimum must be of type float"),
])
def test_seeded_errors_are_caught_with_file_and_reason(text, words):
    with pytest.raises(InputError) as caught:
        load_kinds(text)
    assert words in str(caught.value) and str(caught.value).startswith("units.toml: ")


def test_two_units_cannot_share_a_spelling():
    row = '{name = "cm", symbol = "cm", factor = 0.01, decimals = 1, also = ["m"]}'
    with pytest.raises(InputError, match="'m' means both"):
        load_kinds(GOOD.replace("unit = [", f"unit = [{row}, "))


def test_the_good_table_loads():
    assert load_kinds(GOOD)["x"].accepted == "m"
