"""What the loop over time refuses, and in which words."""

import math
from importlib import resources

import pytest

from coldbench.errors import InputError
from coldbench.refrigerant.loop import Conditions, solve_loop
from coldbench.refrigerant.loop.transient import (
    Cycling,
    advance,
    loop_inputs,
    rest_state,
    simulate,
    state_of,
)
from coldbench.refrigerant.loop.transient_parts import load_stores


@pytest.mark.parametrize("arguments, told", [
    ({"duration_s": 0.0}, "duration_s 0 s must be above 0 and at most 7200 s"),
    ({"duration_s": 7201.0}, "duration_s 7201 s must be above 0 and at most 7200 s"),
    ({"duration_s": math.nan}, "duration_s must be a finite number"),
    ({"duration_s": "long"}, "duration_s must be a finite number"),
    ({"step_s": 0.01}, "step_s 0.01 s is outside 0.05 to 10 s"),
    ({"step_s": 11.0}, "step_s 11 s is outside 0.05 to 10 s"),
    ({"clutch": "on"}, "clutch must be True, False, a function of time"),
    ({"start": "cold"}, "start must be 'rest'"),
    ({"faults": ["gremlins"]}, "no fault 'gremlins'; accepted: "),
])
def test_bad_arguments_are_named_with_what_is_accepted(arguments, told):
    with pytest.raises(InputError, match=told):
        simulate(**{"duration_s": 1.0, **arguments})


@pytest.mark.parametrize("arguments, told", [
    ({"coil_cut_in_K": 270.0}, "coil_cut_in_K 270 must be above coil_cut_out_K 274.15"),
    ({"low_cut_in_gauge_kPa": None}, "must both be given or both be None"),
    ({"high_cut_out_gauge_kPa": math.inf}, "high_cut_out_gauge_kPa must be a finite number"),
    ({"minimum_off_s": -1.0}, "minimum_off_s must be a time of 0 s or more"),
    ({"wish": True}, "wish must be a function of time"),
])
def test_bad_switches_are_named(arguments, told):
    with pytest.raises(InputError, match=told):
        Cycling(**arguments)


def test_a_start_with_another_charge_or_refrigerant_is_refused():
    less = rest_state(loop_inputs(Conditions(charge=0.8)))
    with pytest.raises(InputError, match="start holds .* g of refrigerant, but .* ask for"):
        simulate(Conditions(), 1.0, start=less)
    with pytest.raises(InputError, match="start holds .* g of refrigerant, but .* ask for"):
        simulate(Conditions(), 1.0, start=solve_loop(Conditions(charge=0.8)))
    with pytest.raises(InputError, match="start holds R1234yf, but the conditions ask for R134a"):
        state_of(loop_inputs(Conditions()), solve_loop(Conditions(fluid="R1234yf")))


def test_times_outside_a_run_and_unknown_series_are_refused():
    run = simulate(Conditions(), 1.0)
    for time in (-0.1, 1.1):
        with pytest.raises(InputError, match="is outside 0 to 1 s"):
            run.at(time)
    with pytest.raises(AttributeError, match="high_side_gauge_kPa"):
        run.pressure
    with pytest.raises(ValueError, match="read-only"):
        run.time_s[0] = 1.0
    with pytest.raises(InputError, match="dt_s"):
        advance(run.end, loop_inputs(Conditions()), 0.0)


@pytest.mark.parametrize("change, told", [
    (("bulb_time_s = 30.0", "bulb_time_s = 0.0"), "stores: bulb_time_s 0 must be above 0"),
    (("bulb_time_s = 30.0", ""), "stores: lacks 'bulb_time_s'"),
    (("bulb_time_s = 30.0", "bulb_time_s = 30.0\nsize = 1"), "stores: unknown key 'size'"),
    (("recirculation_share = 0.0", "recirculation_share = 2.0"), "must be from 0 to 1"),
    (("[cabin]", "[cabin"), "not valid TOML"),
])
def test_a_bad_file_of_stores_is_named_with_its_key(change, told):
    text = resources.files("coldbench.refrigerant.loop").joinpath(
        "data", "blue_thermal.toml").read_text("utf-8")
    assert change[0] in text
    with pytest.raises(InputError, match=told) as caught:
        load_stores(text.replace(*change))
    assert str(caught.value).startswith("blue_thermal.toml")
