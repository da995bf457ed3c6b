"""How quick circuits are solved: a bench of 100 nodes with relays and motors, ngspice beside it.

    python tests/benchmarks/circuit_speed.py

writes `results/circuit_speed.md`. The bench is a battery with nine channels of fuse, relay,
driver and motor, lamp or coil. Times are of this process's own processor time; ngspice's are of
its own run over the same cases, without its start.
"""

import argparse
import platform
import random
import resource
import runpy
import shutil
import statistics
import tempfile
import time
from pathlib import Path

from coldbench.electrical import Circuit, catalogue, parse_circuit, solve, solve_batch
from coldbench.electrical.netlist import deck_of

TESTS = Path(__file__).resolve().parents[1]
run_decks = runpy.run_path(str(TESTS / "reference" / "spice_decks.py"))["run_decks"]

LOADS = {
    "motor": ("plus", "minus", 'winding_ohm = 0.2\nk_V_s = 0.04\nfriction_N_m = 0.08\n'
                               "drag_N_m_s2 = 8e-6"),
    "lamp": ("a", "b", "rated_W = 55.0"),
    "coil": ("a", "b", 'coil_ohm = 4.0\nsuppression = "diode"'),
}
CHANNELS = ("motor", "motor", "motor", "motor", "motor", "motor", "lamp", "lamp", "coil")


def channel(n: int, load: str) -> tuple[str, list[tuple[str, str]]]:
    """Parts of one channel as text, and the ends of its wires."""
    first, second, values = LOADS[load]
    parts = [f'id = "F{n}"\nkind = "fuse"\nrating_A = 30.0',
             f'id = "K{n}"\nkind = "relay"\ncoil_ohm = 85.0\nsuppression = "diode"',
             f'id = "D{n}"\nkind = "low_side_driver"\ninput = "request{n}"',
             f'id = "M{n}"\nkind = "{load}"\n{values}']
    wires = [("P", f"F{n}.a"), (f"F{n}.b", f"K{n}.30"), (f"K{n}.87", f"M{n}.{first}"),
             (f"M{n}.{second}", "G"), ("C", f"K{n}.86"), (f"K{n}.85", f"D{n}.out"),
             (f"D{n}.ground", "G")]
    return "".join(f"[[part]]\n{part}\n" for part in parts), wires


def bench() -> Circuit:
    """The circuit: 100 nodes or a few more, nine relays, six motors, six states."""
    text, wires = "", [("B.plus", "P"), ("G", "B.minus"), ("P", "FC.a"), ("FC.b", "C")]
    for n, load in enumerate(CHANNELS, 1):
        parts, more = channel(n, load)
        text, wires = text + parts, wires + more
    heading = 'name = "hundred"\ntitle = "A hundred nodes"\nground = "B.minus"\n'
    for state in range(6):
        heading += f"[states.s{state}]\n" + "".join(
            f"request{n} = {str((n * 7 + state * 5) % 6 >= 6 - state).lower()}\n"
            for n in range(1, len(CHANNELS) + 1))
    heading += ('[[part]]\nid = "B"\nkind = "source"\nemf_V = 13.8\nresistance_ohm = 0.008\n'
                '[[part]]\nid = "FC"\nkind = "fuse"\nrating_A = 10.0\n')
    for n, (start, end) in enumerate(wires):
        text += (f'[[wire]]\nid = "W{n}"\nfrom = "{start}"\nto = "{end}"\nsize_mm2 = 4.0\n'
                 "length_m = 1.0\n")
    nodes = [end for pair in wires for end in pair if "." in end]
    text += "".join(f'[[test_point]]\nnumber = {n}\nat = "{node}"\n'
                    for n, node in enumerate(nodes, 1))
    return parse_circuit(heading + text, "hundred.toml")


def cases_of(circuit: Circuit, faults: int, seed: int = 1) -> list[tuple]:
    """Every state with each of some faults."""
    names = [fault.id for fault in catalogue(circuit)]
    some = random.Random(seed).sample(names, min(faults, len(names)))
    return [(state, [fault]) for fault in some for state in circuit.states]


def timed(action) -> tuple[float, object]:
    """Processor time of an action [s], and what it gives."""
    began = time.process_time()
    got = action()
    return time.process_time() - began, got


def read_all(circuit: Circuit, solutions: list) -> float:
    """Every test point of every solution; the sum keeps the reading honest."""
    return sum(solution.voltage(point) for solution in solutions for point in circuit.test_points)


def spice_seconds(ngspice: str, solutions: list) -> tuple[float, float]:
    """Processor time ngspice needs for the same cases [s], and its worst disagreement [V]."""
    def children() -> float:
        used = resource.getrusage(resource.RUSAGE_CHILDREN)
        return used.ru_utime + used.ru_stime

    decks = [deck_of(solution) for solution in solutions]
    with tempfile.TemporaryDirectory() as folder:
        before = children()
        run_decks(ngspice, decks[:1], Path(folder))
        start = children() - before
        before = children()
        answers = run_decks(ngspice, decks, Path(folder))
        spent = children() - before - start
    worst = max(abs(volts - answer[node.lower()])
                for solution, answer in zip(solutions, answers, strict=True)
                for node, volts in solution.voltages.items()
                if solution.source_ohms[node] < 1e6)
    return spent, worst


def run(faults: int = 100, ngspice: str | None = None, repeats: int = 3) -> dict:
    """All figures of one run, in seconds."""
    circuit = bench()
    cases = cases_of(circuit, faults)
    solve_batch(circuit, cases)  # networks are compiled once, as in any use
    for case in cases:
        solve(circuit, *case)
    alone = [timed(lambda case=case: solve(circuit, *case))[0] for case in cases]
    sweeps = []
    for _ in range(repeats):
        spent, solutions = timed(lambda: solve_batch(circuit, cases))
        reading, _ = timed(lambda solutions=solutions: read_all(circuit, solutions))
        sweeps.append((spent + reading, spent))
    got = {"nodes": len(circuit.nodes), "cases": len(cases), "points": len(circuit.test_points),
           "alone": statistics.median(alone), "alone_most": max(alone),
           "sweep": min(s for s, _ in sweeps), "batched": min(b for _, b in sweeps) / len(cases),
           "buzzing": sum(bool(s.buzzing) for s in solutions)}
    first, _ = timed(lambda: solve(bench(), "s3"))
    got["first"] = first
    if ngspice:
        spent, worst = spice_seconds(ngspice, solutions)
        got |= {"spice": spent / len(cases), "worst_V": worst}
    return got


def report(got: dict) -> str:
    """The run in words, as Markdown."""
    rows = [
        ("nodes of the circuit", f"{got['nodes']}", "100"),
        ("cases (faults × states)", f"{got['cases']}", "600"),
        ("test points read in each", f"{got['points']}", "all"),
        ("one case alone, median", f"{1e3 * got['alone']:.2f} ms", "3 ms"),
        ("one case alone, longest", f"{1e3 * got['alone_most']:.2f} ms", ""),
        ("first case of a circuit, file read and network compiled",
         f"{1e3 * got['first']:.0f} ms", ""),
        ("one case in the batch", f"{1e3 * got['batched']:.3f} ms", "0.5 ms"),
        ("all cases and all points", f"{got['sweep']:.3f} s", "0.5 s"),
    ]
    if "spice" in got:
        rows += [("one case in ngspice", f"{1e3 * got['spice']:.2f} ms", ""),
                 ("ngspice over batch, ratio", f"{got['spice'] / got['batched']:.1f}", ""),
                 ("worst disagreement at driven nodes", f"{got['worst_V']:.1e} V", "1e-6 V")]
    return "\n".join([
        "# Speed of the circuit solver", "",
        f"`python tests/benchmarks/circuit_speed.py`, Python {platform.python_version()}, "
        "one core.", "", "| what | value | target |", "|---|---|---|",
        *(f"| {what} | {value} | {target} |" for what, value, target in rows), ""])


def main() -> None:
    """Run and write the report."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("--faults", type=int, default=100)
    text = report(run(words.parse_args().faults, shutil.which("ngspice")))
    target = Path(__file__).parent / "results" / "circuit_speed.md"
    target.parent.mkdir(exist_ok=True)
    target.write_text(text, encoding="utf-8")
    print(text)


if __name__ == "__main__":
    main()
