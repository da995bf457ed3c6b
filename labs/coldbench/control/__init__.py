"""The automatic control head: sensors and wishes in; compressor, fans, blower and doors out.

`step(state, inputs, calibration, dt_s)` is pure: it gives the new state, the outputs, and a
reason in words and numbers for each. `explain` writes the reasoning out.

    calibration, calibration_file, rules   constants of one head, read from TOML and checked
    hysteresis, latches                    the two-threshold rule and its memory
    sensors                                what is believed; substitutes
    heat_balance                           required discharge temperature of each zone
    blower, distribution, recirculation    air: how much, where to, where from
    compressor, fans                       requests
    door_targets, doors, actuator          blend and other doors, their drive, their mechanics
    codes                                  stored codes
    head, explain, settle                  one step; its text; steps until nothing changes
"""

from coldbench.control.actuator import Actuator, move, sound_actuator
from coldbench.control.calibration import Calibration
from coldbench.control.calibration_file import (
    calibration_from_tables, calibration_schema, load_calibration, read_calibration,
)
from coldbench.control.codes import clear_codes, new_operation_cycle
from coldbench.control.explain import explain, explain_compressor
from coldbench.control.head import initial_state, step, with_wishes
from coldbench.control.records import (
    Demand, DoorCommand, Inputs, Link, Outputs, Reason, Signal, State, Step, Wishes,
)
from coldbench.control.settle import Settled, advance, settle, sound_actuators

__all__ = [
    "Actuator", "Calibration", "Demand", "DoorCommand", "Inputs", "Link", "Outputs", "Reason",
    "Settled", "Signal", "State", "Step", "Wishes", "advance", "calibration_from_tables",
    "calibration_schema", "clear_codes", "explain", "explain_compressor", "initial_state",
    "load_calibration", "move", "new_operation_cycle", "read_calibration", "settle",
    "sound_actuator", "sound_actuators", "step", "with_wishes",
]
