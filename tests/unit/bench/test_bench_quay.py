"""The quay bench, as different from the blue one as can be, from its file to all its faults."""

from fnmatch import fnmatchcase

import pytest

from coldbench.bench import catalogue, differences, load_bench, numbered, read, symptoms_shown
from coldbench.bench.symptoms import reading_units
from coldbench.refrigerant.properties import properties

QUAY, BLUE, YF = load_bench("quay"), load_bench("blue"), load_bench("blue-yf")
FIRST, THEN = "hot yard", ("cooling", "mild", "heating", "off")
ATMOSPHERE_kPa = 101.325


@pytest.fixture(scope="module")
def healthy():
    return {state: read(QUAY, state) for state in QUAY.states}


def value(found, key):
    return found.values[key].value


def lawful(found):
    """Mass, energy and charge are kept; what runs has current, what does not compress no power."""
    loop = found.loop
    assert abs(loop.residuals.mass) < 1e-5
    assert abs(loop.residuals.energy) < 1e-5 or "high-pressure trip" in loop.flags
    assert abs(found.electrical.power_balance_W) < 1e-3
    assert loop.high_side_gauge_Pa >= loop.low_side_gauge_Pa - 1.0
    assert loop.running or loop.compressor_power_W == 0.0


def test_it_is_quite_another_bench():
    assert (QUAY.loop.fluid, BLUE.loop.fluid) == ("R152a", "R134a")
    assert (len(QUAY.fans), len(QUAY.calibration.zones)) == (1, 1)
    assert (len(BLUE.fans), len(BLUE.calibration.zones)) == (2, 2)
    assert QUAY.engine is None and len(QUAY.inputs.inputs) < len(BLUE.inputs.inputs)
    assert "oscilloscope" in QUAY.instruments.leave_out


def test_every_state_is_solved_lawfully_and_without_a_complaint(healthy):
    for state, found in healthy.items():
        lawful(found)
        assert found.codes == () and symptoms_shown(found) == ()
        assert found.values.keys() <= reading_units(QUAY).keys(), state
        assert all(one.unit == reading_units(QUAY)[key] for key, one in found.values.items())


def test_healthy_readings_are_those_of_a_refrigerant_circuit(healthy):
    """Condensing above the air outside, boiling below the coil's air; at rest both are one."""
    fluid = properties("R152a")
    for state in ("cooling", "hot yard"):
        found, settings = healthy[state], QUAY.states[state]
        high, low = ((value(found, f"gauge {side}") + ATMOSPHERE_kPa) * 1e3
                     for side in ("high", "low"))
        assert fluid.saturation_pressure(settings.ambient_K + 5.0) < high
        assert high < fluid.saturation_pressure(settings.ambient_K + 30.0)
        assert low < fluid.saturation_pressure(found.vents_K["cabin"])
        assert value(found, "pipe liquid line") < value(found, "pipe compressor outlet")
        assert value(found, "vent cabin") < settings.ambient_K - 273.15 - 10.0
    rest = healthy["off"]
    wanted = fluid.saturation_pressure(QUAY.states["off"].ambient_K) / 1e3 - ATMOSPHERE_kPa
    assert value(rest, "gauge high") == pytest.approx(wanted, abs=1.0)
    assert value(rest, "gauge low") == pytest.approx(wanted, abs=1.0)


def test_the_resistor_makes_the_fan_slow_and_gets_its_share_of_the_volts(healthy):
    slow, fast = healthy["cooling"], healthy["hot yard"]
    assert (slow.outputs.fan, fast.outputs.fan) == ("low", "high")
    assert value(slow, "condenser flow") < 0.8 * value(fast, "condenser flow")
    volts = value(slow, "tp 4") - value(slow, "tp 5")
    ohm = QUAY.circuit.parts["R1"].parameters["resistance_ohm"]
    ohm += QUAY.circuit.wires["W7"].resistance_ohm
    assert volts == pytest.approx(ohm * value(slow, "current M1"), rel=1e-3)
    assert value(fast, "tp 4") - value(fast, "tp 5") < 0.1 * volts


def test_heating_warms_and_off_does_nothing(healthy):
    assert value(healthy["heating"], "vent cabin") > 25.0
    assert value(healthy["heating"], "clutch") == 0
    off = healthy["off"]
    assert off.outputs is None
    assert all(abs(value(off, f"current {name}")) < 1e-3 for name in ("M1", "MB", "CL"))


def test_every_fault_is_solved_and_shows_or_is_excused(healthy):
    unseen = []
    for one in catalogue(QUAY):
        found = read(QUAY, FIRST, [one.id])
        lawful(found)
        if not differences(healthy[FIRST], found):
            unseen.append(one.id)
    hidden = QUAY.catalogue.invisible
    for fault in unseen:
        shown = any(differences(healthy[state], read(QUAY, state, [fault])) for state in THEN)
        assert shown or any(fnmatchcase(fault, name) for name in hidden), fault


def test_no_excuse_for_a_fault_that_is_not_there():
    ids = [one.id for one in catalogue(QUAY)]
    assert len(ids) > 150 and numbered(QUAY, catalogue(QUAY)[0].number) is catalogue(QUAY)[0]
    for name, reason in QUAY.catalogue.invisible.items():
        assert reason and any(fnmatchcase(one, name) for one in ids), name


@pytest.mark.parametrize(("fault", "state", "complaint"), [
    ("CL:open", "cooling", "warm air from the vents"),
    ("F12:blown", "cooling", "no air from the vents"),
    ("M1:open", "cooling", "fan does not turn"),
    ("K2:coil_open", "hot yard", "fan turns slowly in the heat"),
    ("head:fan-thresholds", "hot yard", "fan turns slowly in the heat"),
    ("blend_cabin:jammed=0.0", "heating", "does not get warm"),
])
def test_faults_show_as_the_complaints_they_cause(fault, state, complaint):
    assert complaint in symptoms_shown(read(QUAY, state, [fault]))


def test_without_the_resistor_the_pressure_climbs_until_high_speed_is_asked_for(healthy):
    whole, burnt = healthy["mild"], read(QUAY, "mild", ["R1:open"])
    assert whole.outputs.fan == "low" and value(whole, "current M1") > 5.0
    assert burnt.outputs.fan == "high" and value(burnt, "condenser flow") > 95.0
    assert value(read(QUAY, "hot yard", ["R1:open"]), "condenser flow") > 95.0


def test_the_variant_with_r1234yf_is_the_blue_bench_with_another_refrigerant():
    assert YF.loop.fluid == "R1234yf" and YF.circuit.parts == BLUE.circuit.parts
    assert [one.id for one in catalogue(YF)] == [one.id for one in catalogue(BLUE)]
    assert [one.number for one in catalogue(YF)] != [one.number for one in catalogue(BLUE)]
    for state in YF.states:
        found = read(YF, state)
        lawful(found)
        assert symptoms_shown(found) == () and found.codes == ()
    one, two = read(YF, "full cooling"), read(BLUE, "full cooling")
    # R-1234yf works at a higher suction pressure and a cooler discharge (common practice)
    assert value(one, "gauge low") > value(two, "gauge low")
    assert value(one, "pipe compressor outlet") < value(two, "pipe compressor outlet") - 3.0
