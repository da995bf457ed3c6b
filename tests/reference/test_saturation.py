"""Saturation against published tables and other libraries; the source stands at each check."""

import numpy as np
import pytest

from coldbench.refrigerant import FLUIDS, fluid
from coldbench.refrigerant.build_tables import build_table
from coldbench.refrigerant.records import RECORDS

CAS = {"R134a": "811-97-2", "R152a": "75-37-6", "R12": "75-71-8", "R22": "75-45-6",
       "R32": "75-10-5", "R744": "124-38-9"}


def temperatures(name: str, low_K: float, high_K: float) -> list[float]:
    """Temperatures every 5 K within the range and the fluid's table [K]."""
    lowest, highest = fluid(name).temperature_range_K
    found = np.arange(max(low_K, lowest), min(high_K, highest), 5.0).tolist()
    assert len(found) > 5
    return found


@pytest.mark.parametrize(("temperature_degC", "pressure_MPa"), [
    # ASHRAE Handbook - Fundamentals, R-134a saturation table (from memory).
    (-20, 0.13273), (-10, 0.20060), (0, 0.29280), (10, 0.41461), (20, 0.57171), (30, 0.77020),
    (40, 1.0166), (50, 1.3179), (60, 1.6818), (70, 2.1168),
])
def test_r134a_handbook_table(temperature_degC, pressure_MPa):
    pressure_Pa = fluid("R134a").bubble_pressure(temperature_degC + 273.15)
    assert pressure_Pa / 1e6 == pytest.approx(pressure_MPa, rel=1e-4)


def test_r134a_against_a_separately_coded_equation_of_state():
    # pyromat, substance mp.C2H2F4; agreed tolerance 5e-4.
    import pyromat

    other = pyromat.get("mp.C2H2F4")
    for T in temperatures("R134a", 230.0, 365.0):
        pressure_Pa = float(other.ps(T=T)[0] if np.ndim(other.ps(T=T)) else other.ps(T=T)) * 1e5
        assert fluid("R134a").bubble_pressure(T) == pytest.approx(pressure_Pa, rel=5e-4)


@pytest.mark.parametrize("name", ["R12", "R22", "R32", "R744"])
def test_vdi_heat_atlas_equations(name):
    # VDI Heat Atlas, 2nd ed. (2010), D3.1 vapour pressure coefficients, in chemicals.
    from chemicals import Wagner
    from chemicals.vapor_pressure import Psat_data_VDI_PPDS_3 as table

    row = table.loc[CAS[name]]
    for T in temperatures(name, 233.15, 343.15):
        expected = Wagner(T, row["Tc"], row["Pc"], row["A"], row["B"], row["C"], row["D"])
        assert fluid(name).bubble_pressure(T) == pytest.approx(expected, rel=2e-3)


@pytest.mark.parametrize("name", ["R134a", "R152a", "R22"])
def test_vdi_heat_atlas_tables(name):
    # VDI Heat Atlas, 2nd ed. (2010), D2 tables of saturation pressure, in chemicals.
    from chemicals.miscdata import lookup_VDI_tabular_data

    lowest_K, highest_K = fluid(name).temperature_range_K
    pairs = [(T, p) for T, p in zip(*lookup_VDI_tabular_data(CAS[name], "P"))
             if max(lowest_K, 200.0) <= T <= highest_K]
    assert len(pairs) >= 5
    for T, expected in pairs:
        assert fluid(name).bubble_pressure(T) == pytest.approx(expected, rel=2e-3)


@pytest.mark.parametrize("name", ["R152a", "R32"])
def test_perrys_handbook_equations(name):
    # Perry's Chemical Engineers' Handbook, 8th ed. (2007), table 2-8, in chemicals.
    from chemicals import EQ101
    from chemicals.vapor_pressure import Psat_data_Perrys2_8 as table

    row = table.loc[CAS[name]]
    for T in temperatures(name, 233.15, 343.15):
        expected = EQ101(T, *(row[c] for c in ("C1", "C2", "C3", "C4", "C5")))
        assert fluid(name).bubble_pressure(T) == pytest.approx(expected, rel=2e-3)


@pytest.mark.parametrize("name", ["R134a", "R152a", "R22", "R32"])
def test_poling_equations(name):
    # Poling, Prausnitz and O'Connell, The Properties of Gases and Liquids, 5th ed. (2001),
    # extended Antoine coefficients, in chemicals.
    from chemicals import TRC_Antoine_extended
    from chemicals.vapor_pressure import Psat_data_AntoineExtended as table

    row = table.loc[CAS[name]]
    for T in temperatures(name, float(row["Tmin"]), 323.15):
        expected = TRC_Antoine_extended(T, *(row[c] for c in ("Tc", "to", "A", "B", "C", "n",
                                                              "E", "F")))
        assert fluid(name).bubble_pressure(T) == pytest.approx(expected, rel=2e-3)


def test_r1234yf_against_an_older_equation_of_state():
    # Richter, McLinden and Lemmon (2011), with the phase equilibrium of teqp. It differs from
    # the 2022 equation by up to 1.3e-3 in pressure; agreed tolerance 3e-3.
    import teqp

    model = teqp.build_multifluid_model(["R1234yf"], teqp.get_datapath())
    guess = teqp.build_ancillaries(model, 367.85, 4170.0, 230.0)
    pure = np.array([1.0])
    for T in temperatures("R1234yf", 243.15, 355.0):
        _, vapour = model.pure_VLE_T(T, guess.rhoL(T), guess.rhoV(T), 20)
        expected = vapour * model.get_R(pure) * T * (1.0 + model.get_Ar01(T, vapour, pure))
        assert fluid("R1234yf").bubble_pressure(T) == pytest.approx(expected, rel=3e-3)


@pytest.mark.parametrize(("temperature_degC", "pressure_MPa"), [
    (0, 0.3158), (20, 0.5917), (40, 1.0184), (60, 1.6419),  # R-1234yf, from memory
])
def test_r1234yf_round_figures(temperature_degC, pressure_MPa):
    pressure_Pa = fluid("R1234yf").bubble_pressure(temperature_degC + 273.15)
    assert pressure_Pa / 1e6 == pytest.approx(pressure_MPa, rel=3e-3)


def coolprop_pressure(state, quality: int, temperature_K: float) -> float:
    """Saturation pressure from CoolProp [Pa]."""
    from CoolProp import QT_INPUTS

    state.update(QT_INPUTS, quality, temperature_K)
    return state.p()


@pytest.mark.parametrize("name", FLUIDS)
def test_table_error_against_the_equation_it_was_built_from(name):
    # CoolProp, the equation of state named in fluids.toml. Bounds: 3e-6 and 0.2 mK; 5 K below
    # the top of the table, where the curve bends towards the critical point, 2e-5 and 1 mK.
    from CoolProp import AbstractState

    substance, state = fluid(name), AbstractState("HEOS", RECORDS[name].library_name)
    low, high = substance.temperature_range_K
    forward = (substance.bubble_pressure, substance.dew_pressure)
    back = (substance.bubble_temperature, substance.dew_temperature)
    for T in np.linspace(low + 0.01, high - 0.01, 997).tolist():
        near_top = T > high - 5.0
        for quality in (0, 1):
            exact_Pa = coolprop_pressure(state, quality, T)
            assert forward[quality](T) == pytest.approx(exact_Pa, rel=2e-5 if near_top else 3e-6)
            assert back[quality](exact_Pa) == pytest.approx(T, abs=1e-3 if near_top else 2e-4)


@pytest.mark.parametrize("name", FLUIDS)
def test_critical_and_triple_points_agree_with_the_equation(name):
    # CoolProp. R-134a: the paper rounds its critical point to 374.21 K, 4.0593 MPa.
    from CoolProp import AbstractState

    record, state = RECORDS[name], AbstractState("HEOS", RECORDS[name].library_name)
    assert record.critical_temperature_K == pytest.approx(state.T_critical(), abs=0.003)
    assert record.critical_pressure_Pa == pytest.approx(state.p_critical(), rel=2e-4)
    if record.triple_temperature_K is not None:
        assert record.triple_temperature_K == pytest.approx(state.Ttriple(), abs=0.01)


@pytest.mark.parametrize("name", [n for n in FLUIDS if RECORDS[n].mass_fractions])
def test_blends_against_a_mixture_of_their_components(name):
    # CoolProp mixture model with the mass fractions of ANSI/ASHRAE 34, independent of the
    # pseudo-pure equation (Lemmon 2003) behind the table. It fails to converge near 316 K for
    # R-410A and near 330 K for R-407C and goes wrong near the critical point; those are left out.
    from CoolProp import AbstractState

    fractions = RECORDS[name].mass_fractions
    state = AbstractState("HEOS", "&".join(fractions))
    state.set_mass_fractions(list(fractions.values()))
    for T in (*np.arange(205.0, 312.0, 5.0).tolist(), 335.0):
        bubble_Pa, dew_Pa = (coolprop_pressure(state, q, T) for q in (0, 1))
        assert fluid(name).bubble_pressure(T) == pytest.approx(bubble_Pa, rel=3e-4)
        assert fluid(name).dew_pressure(T) == pytest.approx(dew_Pa, rel=3e-4)


@pytest.mark.parametrize("name", ["R134a", "R407C"])
def test_shipped_table_is_what_the_builder_makes(name):
    # CoolProp; a new version may differ in the last digits, so figures are compared, not bytes.
    import json
    from importlib import resources

    folder = resources.files("coldbench.refrigerant").joinpath("saturation_tables")
    shipped = json.loads(folder.joinpath(f"{name}.json").read_text(encoding="utf-8"))
    built = build_table(RECORDS[name])
    assert shipped["equation"] == built["equation"] and shipped["layout"] == built["layout"]
    for side in ("bubble", "dew"):
        assert shipped[side]["temperatures_K"] == pytest.approx(built[side]["temperatures_K"],
                                                                abs=1e-6)
