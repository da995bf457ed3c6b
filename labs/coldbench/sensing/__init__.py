"""Sensors of the climate system: from a physical value to volts, counts and belief.

relations   thermistor, thermistor_fit, platinum, divider, self_heating, transducer, photodiode,
            potentiometer, converter: each one relation, both ways, for floats and arrays
choosing    selection (pull-up, threshold, window), preferred (resistor values)
judgement   windows, codes (ISO 14229-1 status bits), substitute: pure step functions
lists       sensors, control_inputs (TOML with a schema, in `data`)
whole path  path (value → circuit with faults → reading), memory (readings over time → codes and
            what the head works with), response (curves for pictures and tables)

SI throughout: temperatures in K, gauge pressures in Pa, irradiance in W/m², positions 0 to 1.
"""

from coldbench.sensing.codes import (
    CLEARED, CodePolicy, CodeState, Status, status_meaning, status_names, step_code,
    step_code_cycle)
from coldbench.sensing.control_inputs import (
    ControlHead, ControlInput, check_head, load_control_head, read_control_inputs)
from coldbench.sensing.converter import Converter
from coldbench.sensing.divider import (
    divider_power, divider_resistance, divider_slope, divider_voltage)
from coldbench.sensing.memory import (
    HeadMemory, InputMemory, StoredCode, clear_codes, new_cycle, step_head, stored_codes)
from coldbench.sensing.path import SensorReading, read_sensors, sensor_inputs, solve_sensors
from coldbench.sensing.photodiode import SunSensor, lamp_irradiance
from coldbench.sensing.platinum import platinum_resistance, platinum_slope, platinum_temperature
from coldbench.sensing.potentiometer import FeedbackPotentiometer, loaded_fraction
from coldbench.sensing.preferred import nearest_preferred
from coldbench.sensing.response import Response, sensor_response, usual_range
from coldbench.sensing.selection import (
    Threshold, most_sensitive_pull_up, straightest_pull_up, threshold, weakest_sensitivity,
    window_range_K)
from coldbench.sensing.self_heating import self_heated_temperature
from coldbench.sensing.sensors import Sensor, load_sensors, read_sensors_file
from coldbench.sensing.substitute import Belief, believe
from coldbench.sensing.thermistor import (
    ThermistorCurve, beta_curve, extended_curve, steinhart_hart_curve)
from coldbench.sensing.thermistor_fit import (
    beta_from_points, fit_beta, fit_errors_K, fit_steinhart_hart)
from coldbench.sensing.transducer import PressureTransducer
from coldbench.sensing.windows import Window, WindowState, step_window

__all__ = [
    "CLEARED", "Belief", "CodePolicy", "CodeState", "ControlHead", "ControlInput", "Converter",
    "FeedbackPotentiometer", "HeadMemory", "InputMemory", "PressureTransducer", "Response",
    "Sensor", "SensorReading", "Status", "StoredCode", "SunSensor", "ThermistorCurve",
    "Threshold", "Window", "WindowState", "believe", "beta_curve", "beta_from_points",
    "check_head", "clear_codes", "divider_power", "divider_resistance", "divider_slope",
    "divider_voltage", "extended_curve", "fit_beta", "fit_errors_K", "fit_steinhart_hart",
    "lamp_irradiance", "load_control_head", "load_sensors", "loaded_fraction",
    "most_sensitive_pull_up", "nearest_preferred", "new_cycle", "platinum_resistance",
    "platinum_slope", "platinum_temperature", "read_control_inputs", "read_sensors",
    "read_sensors_file", "self_heated_temperature", "sensor_inputs", "sensor_response",
    "solve_sensors", "status_meaning", "status_names", "steinhart_hart_curve", "step_code",
    "step_code_cycle", "step_head", "step_window", "stored_codes", "straightest_pull_up",
    "threshold", "usual_range", "weakest_sensitivity", "window_range_K",
]
