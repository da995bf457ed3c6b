"""10,000 random benches with random faults: does every one solve, how fast, and is it right?

    python tests/benchmarks/loop_convergence.py --cases 10000 --seed 1

writes `results/loop_convergence.md`. Checked on every case: mass and energy close, entropy is
produced, a trip is certified. On samples: the same answer from another start; the same point
with CoolProp's own calls instead of the tables; the time with those calls beside it.
"""

import argparse
import dataclasses
import platform
import random
import runpy
import statistics
import time
from collections import Counter
from pathlib import Path

from coldbench.errors import ConvergenceError
from coldbench.refrigerant.loop import Conditions, blue_parts, fault_kinds, solve_loop
from coldbench.refrigerant.loop.balance import evaluate, make_problem
from coldbench.refrigerant.loop.faults import effects
from coldbench.refrigerant.loop.solver import find

TESTS = Path(__file__).resolve().parents[1]
coolprop_properties = runpy.run_path(
    str(TESTS / "reference" / "coolprop_properties.py"))["coolprop_properties"]

TOLERANCE = 1e-6  # mass and energy, relative
SAME = 1e-5  # pressures of two solutions, relative
FLUIDS = ("R134a", "R1234yf", "R152a")


def random_case(rng: random.Random) -> tuple[Conditions, tuple]:
    """Any conditions the loop accepts, with none, one or two faults of any severity."""
    while True:
        faults = tuple((name, rng.random()) for name in
                       rng.sample(sorted(fault_kinds()), rng.choice((0, 1, 1, 1, 2))))
        charge = rng.choice((1.0, rng.uniform(0.2, 1.5), rng.uniform(0.2, 1.5)))
        if 0.2 <= charge * effects(faults).charge_factor <= 1.5:
            break
    return Conditions(
        fluid=rng.choice(FLUIDS), charge=charge,
        ambient_K=rng.uniform(278.15, 328.15), intake_K=rng.uniform(278.15, 328.15),
        intake_humidity=rng.random(), blower=rng.choice((0.0, rng.random(), 1.0)),
        condenser_fan=rng.choice(("off", "low", "high", "high")),
        speed_rpm=rng.uniform(500.0, 5000.0),
        valve_angle_deg=rng.choice((0.0, 0.0, rng.uniform(0.0, 90.0), 90.0)),
        atmosphere_Pa=rng.uniform(60e3, 110e3)), faults


def timed(conditions: Conditions, faults: tuple):
    """Result or error of one solve, and its time [s]."""
    began = time.process_time()
    try:
        result = solve_loop(conditions, faults=faults)
    except ConvergenceError as error:
        result = error
    return result, time.process_time() - began


def wrong(result) -> list[str]:
    """What is not right with one result; empty if nothing is."""
    if not result.running:
        return []
    found = [] if result.residuals.mass < TOLERANCE else ["mass does not close"]
    if "high-pressure trip" not in result.flags and result.residuals.energy > TOLERANCE:
        found.append("energy does not close")
    states = result.states
    # the compressor makes entropy, but for what its hot shell gives to the air
    made = states["compressor outlet"].entropy_J_kgK - states["compressor inlet"].entropy_J_kgK
    given = result.shell_loss_W / result.mass_flow_kg_per_s / result.conditions.ambient_K
    if made + given < -1e-6:
        found.append("the compressor destroys entropy")
    if states["evaporator inlet"].entropy_J_kgK < states["liquid line"].entropy_J_kgK - 1e-6:
        found.append("the valves destroy entropy")
    return found


def other_start(case, result, rng: random.Random) -> float:
    """Largest relative difference of pressures when solved from another start."""
    conditions, faults = case
    start = tuple(v + rng.uniform(-0.3, 0.3) for v in result.unknowns)
    again = solve_loop(conditions, faults=faults, start=start)
    return max(abs(getattr(again, name) / getattr(result, name) - 1.0)
               for name in ("high_side_Pa", "low_side_Pa"))


def with_coolprop(case, result) -> tuple[float, float]:
    """Worst residual, and error of the discharge temperature [K], with CoolProp at one point."""
    conditions, faults = case
    problem = make_problem(conditions, blue_parts(), effects(faults))
    plain = dataclasses.replace(problem, fluid=coolprop_properties(conditions.fluid))
    ours, theirs = (evaluate(p, result.unknowns) for p in (problem, plain))
    pairs = zip(ours.residuals, theirs.residuals, strict=True)
    return max(abs(a - b) for a, b in pairs), abs(ours.gas_K - theirs.gas_K)


def speed_ratio(cases) -> tuple[float, float, float]:
    """Median time with tables and with plain high-level calls [s], and the median ratio."""
    ours, theirs = [], []
    for conditions, faults in cases:
        problem = make_problem(conditions, blue_parts(), effects(faults))
        plain = dataclasses.replace(problem, fluid=coolprop_properties(conditions.fluid))
        for kind, times in ((problem, ours), (plain, theirs)):
            find(kind)  # once before, so that neither pays for loading
            began = time.process_time()
            find(kind)
            times.append(time.process_time() - began)
    ratios = [b / a for a, b in zip(ours, theirs, strict=True)]
    return statistics.median(ours), statistics.median(theirs), statistics.median(ratios)


def usual_cases(count: int, rng: random.Random) -> list:
    """Weather and faults of a school day, for the comparison of speeds."""
    return [(Conditions(fluid=rng.choice(FLUIDS), ambient_K=rng.uniform(293.0, 313.0)),
             ((rng.choice(("condenser-blocked", "undercharge", "belt-slip")), rng.random()),))
            for _ in range(count)]


def run(cases: int, seed: int, sample: int, compared: int) -> dict:
    """All figures of one run."""
    rng = random.Random(seed)
    drawn = [random_case(rng) for _ in range(cases)]
    solve_loop()
    results, times = zip(*(timed(*case) for case in drawn), strict=True)
    solved = [(c, r) for c, r in zip(drawn, results, strict=True)
              if not isinstance(r, ConvergenceError)]
    running = [(c, r) for c, r in solved if r.running]
    cool = [(c, r) for c, r in running if r.discharge_temperature_K < 440.0]
    times = sorted(t * 1e3 for t in times)
    starts = [other_start(c, r, rng) for c, r in rng.sample(running, min(sample, len(running)))]
    checked = [with_coolprop(c, r) for c, r in rng.sample(cool, min(sample // 5, len(cool)))]
    return {
        "cases": cases, "seed": seed,
        "raised": [(c, str(r)) for c, r in zip(drawn, results, strict=True)
                   if isinstance(r, ConvergenceError)],
        "wrong": [(c, w) for c, r in solved if (w := wrong(r))],
        "flags": Counter(flag for _, r in solved for flag in (r.flags or ("no flag",))),
        "median_ms": statistics.median(times), "p99_ms": times[int(0.99 * cases)],
        "most_ms": times[-1],
        "mass": max(r.residuals.mass for _, r in running),
        "energy": max(r.residuals.energy for _, r in running
                      if "high-pressure trip" not in r.flags),
        "starts": len(starts), "start_difference": max(starts),
        "starts_apart": sum(d > SAME for d in starts),
        "coolprop": len(checked), "coolprop_residual": max(r for r, _ in checked),
        "coolprop_discharge_K": max(t for _, t in checked),
        "speed": speed_ratio(usual_cases(compared, rng)),
    }


def report(got: dict) -> str:
    """The run in words, as Markdown."""
    ours, theirs, ratio = got["speed"]
    lines = [
        "# Convergence of the refrigerant loop", "",
        f"`python tests/benchmarks/loop_convergence.py --cases {got['cases']} "
        f"--seed {got['seed']}`, Python {platform.python_version()}, one core.", "",
        "Drawn at random: three refrigerants, the whole range of conditions the loop accepts, "
        "none, one or two faults of any severity.", "",
        "| what | value | target |", "|---|---|---|",
        f"| cases | {got['cases']} | 10,000 |",
        f"| raised `ConvergenceError` | {len(got['raised'])} | at most 0.1 % |",
        f"| wrong (mass or energy open by more than {TOLERANCE:g}, entropy destroyed) | "
        f"{len(got['wrong'])} | 0 |",
        f"| largest mass residual | {got['mass']:.1e} | |",
        f"| largest energy residual, steady states | {got['energy']:.1e} | |",
        f"| median time | {got['median_ms']:.2f} ms | 5 ms |",
        f"| 99th percentile | {got['p99_ms']:.1f} ms | 40 ms |",
        f"| longest | {got['most_ms']:.0f} ms | |",
        f"| solved again from another start | {got['starts']} | |",
        f"| of these, pressures apart by more than {SAME:g} | {got['starts_apart']} | 0 |",
        f"| evaluated again with CoolProp | {got['coolprop']} | |",
        f"| largest change of a residual | {got['coolprop_residual']:.1e} | |",
        f"| largest change of the discharge temperature | "
        f"{got['coolprop_discharge_K']:.3f} K | |",
        f"| usual cases, median with tables | {ours * 1e3:.2f} ms | |",
        f"| the same with plain high-level calls | {theirs * 1e3:.0f} ms | |",
        f"| ratio, median | {ratio:.0f} | |", "", "Outcomes:", ""]
    lines += [f"- {flag}: {count}" for flag, count in got["flags"].most_common()]
    for name in ("raised", "wrong"):
        if got[name]:
            lines += ["", f"Cases {name}:", "", *(f"- `{case}`: {why}" for case, why in got[name])]
    return "\n".join(lines) + "\n"


def main() -> None:
    """Run with the words of the command line and write the report."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("--cases", type=int, default=10_000)
    words.add_argument("--seed", type=int, default=1)
    words.add_argument("--sample", type=int, default=1_000)
    words.add_argument("--compared", type=int, default=20)
    given = words.parse_args()
    text = report(run(given.cases, given.seed, given.sample, given.compared))
    target = Path(__file__).parent / "results" / "loop_convergence.md"
    target.parent.mkdir(exist_ok=True)
    target.write_text(text, encoding="utf-8")
    print(text)


if __name__ == "__main__":
    main()
