"""A blue head in a known scene, for the tests of the control head (read with runpy)."""

from dataclasses import replace

from coldbench.control import Inputs, Signal, Wishes, initial_state, load_calibration, settle, step

BLUE = load_calibration("blue_head")
PLAIN = load_calibration("one_zone_head")
C = 273.15
SOUND = {  # a warm day, the car nearly cooled down, the loop in the middle of every band
    "ambient": 30.0 + C, "cabin": 24.0 + C, "sun": 200.0, "discharge": 12.0 + C,
    "evaporator": 8.0 + C, "pressure": 1.0e6, "coolant": 88.0 + C,
}


def signals(calibration=BLUE, **values):
    """Signals of all sensors; `sun` sets every zone's, `sun_left` one; a Signal stays as it is."""
    chosen = {}
    for name in calibration.sensor_names:
        kind = name.split(" ")[0]
        value = values.get(name.replace(" ", "_"), values.get(kind, SOUND[kind]))
        chosen[name] = value if isinstance(value, Signal) else Signal(value)
    return chosen


def scene(calibration=BLUE, doors=None, supply_V=13.8, speed_rpm=900.0, set_point_K=22.0 + C,
          wishes=None, service=None, **values):
    """Inputs of a scene; `wishes` holds changes to the driver's wishes."""
    zones = len(calibration.zones)
    driver = replace(Wishes((set_point_K,) * zones), **(wishes or {}))
    feedback = doors if doors is not None else {n: Signal.at(0.1) for n in calibration.door_names}
    return Inputs(driver, signals(calibration, **values), feedback, supply_V, speed_rpm,
                  service or {})


def settled(calibration=BLUE, state=None, actuators=None, **kept):
    """Settle a scene, doors moving."""
    kept.setdefault("doors", {})
    return settle(state or initial_state(calibration), scene(calibration, **kept), calibration,
                  actuators)


def run(state, seconds, dt_s, inputs, calibration=BLUE):
    """Steps of constant inputs; returns all of them."""
    done = []
    for _ in range(round(seconds / dt_s)):
        done.append(step(state, inputs, calibration, dt_s))
        state = done[-1].state
    return done
