"""How much faster than real time is the loop over time, and where does it end?

    python tests/benchmarks/loop_transient.py --seconds 600

writes `results/loop_transient.md`. Speed: simulated time by processor time, for benches that run
through, cycle, trip or stand still. End: the last readings of a bench that runs through, against
the steady solver. Mass: both sides together, against the charge.
"""

import argparse
import platform
import time
from pathlib import Path
from typing import NamedTuple

from coldbench.refrigerant.loop import Conditions, solve_loop
from coldbench.refrigerant.loop.transient import Cycling, Transient, simulate

C = 273.15
AIR_kPa = 101.325
TARGET = 20.0  # times real time
TEMPERATURES = ("suction_temperature_K", "discharge_temperature_K", "liquid_line_temperature_K",
                "vent_temperature_K", "superheat_K", "subcooling_K")


class Case(NamedTuple):
    """One run."""

    words: str
    conditions: Conditions
    faults: tuple = ()
    clutch: object = True


HOT = Conditions(ambient_K=C + 40.0, intake_K=C + 35.0, speed_rpm=2500.0)
LIGHT = Conditions(ambient_K=C + 20.0, intake_K=C + 15.0)
CYCLING = Case("light load, clutch cycling", LIGHT, (), Cycling())
CASES = (
    CYCLING,
    Case("light load at low blower, clutch cycling", Conditions(blower=0.4), (), Cycling()),
    Case("hand valve shut, low-side switch cycling", Conditions(valve_angle_deg=90.0), (),
         Cycling()),
    Case("no condenser fan at 45 degC, high-side switch cycling",
         Conditions(ambient_K=C + 45.0, intake_K=C + 35.0, condenser_fan="off"), (), Cycling()),
    Case("healthy, held on", Conditions()),
    Case("healthy R-1234yf, held on", Conditions(fluid="R1234yf")),
    Case("40 degC at 2500 rpm, held on", HOT),
    Case("undercharged, held on", Conditions(), ("undercharge",)),
    Case("condenser blocked, held on", Conditions(), ("condenser-blocked",)),
    Case("air in the system, held on", Conditions(), ("air-in-system",)),
    Case("hand valve shut, held on", Conditions(valve_angle_deg=90.0)),
    Case("a minute on, then at rest", Conditions(), (), lambda time_s: time_s < 60.0),
)


class Figures(NamedTuple):
    """What one run gives."""

    ratio: float  # simulated by processor time
    releases: int
    mass: float
    pressure: float | None  # largest relative difference to the steady state
    temperature_K: float | None


def figures(case: Case, seconds: float) -> Figures:
    """Run a case and compare it."""
    began = time.process_time()
    run = simulate(case.conditions, seconds, faults=case.faults, clutch=case.clutch)
    ratio = seconds / (time.process_time() - began)
    releases = sum("releases" in event.words for event in run.events)
    end = against_steady(case, run) if case.clutch is True and not releases else (None, None)
    return Figures(ratio, releases, run.mass_residual, *end)


def against_steady(case: Case, run: Transient) -> tuple[float, float]:
    """Largest difference of the end to the steady state: pressures [share], temperatures [K]."""
    steady, end = solve_loop(case.conditions, faults=case.faults), run.at(run.time_s[-1])
    pressure = max(
        abs((getattr(end, f"{side}_gauge_kPa") + AIR_kPa) / (getattr(steady, f"{side}_Pa") / 1e3)
            - 1.0) for side in ("high_side", "low_side"))
    return pressure, max(abs(getattr(end, n) - getattr(steady, n)) for n in TEMPERATURES)


def report(seconds: float, rows: list[tuple[Case, Figures]]) -> str:
    """The runs in words, as Markdown."""
    least = min(got.ratio for _, got in rows)
    lines = ["# Speed and end of the loop over time", "",
             f"`python tests/benchmarks/loop_transient.py --seconds {seconds:g}`, "
             f"Python {platform.python_version()}, one core. From rest, a sample every 0.5 s.", "",
             f"Least ratio to real time: {least:.0f}; target: {TARGET:g} or more.", "",
             "| bench | times real time | releases | mass residual | pressures to steady | "
             "temperatures to steady |", "|---|---|---|---|---|---|"]
    for case, got in rows:
        ends = (("", "") if got.pressure is None
                else (f"{got.pressure * 100:.3f} %", f"{got.temperature_K:.3f} K"))
        lines.append(f"| {case.words} | {got.ratio:.0f} | {got.releases} | {got.mass:.0e} | "
                     f"{ends[0]} | {ends[1]} |")
    return "\n".join(lines) + "\n"


def main() -> None:
    """Run with the words of the command line and write the report."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("--seconds", type=float, default=600.0)
    seconds = words.parse_args().seconds
    simulate(Conditions(), 1.0)  # tables are loaded once, before the clock runs
    text = report(seconds, [(case, figures(case, seconds)) for case in CASES])
    target = Path(__file__).parent / "results" / "loop_transient.md"
    target.parent.mkdir(exist_ok=True)
    target.write_text(text, encoding="utf-8")
    print(text)


if __name__ == "__main__":
    main()
