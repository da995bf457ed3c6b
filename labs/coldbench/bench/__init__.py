"""A whole training bench: one file, one circuit, one loop, one head, solved together.

    load_bench → Bench;  read → BenchReading: everything that instruments show
    bench_faults, catalogue: what can be wrong, in four families

    tables, rules, build, files, model   bench files: read, checked, made
    merge                                several circuits as the sheets of one
    fault_text                           faults as a person writes them
    air_path, coupling                   one round through the bench
    steady                               rounds until nothing changes, or a limit cycle
    reading, uncertainty                 what instruments show, and how well
"""

from coldbench.bench.fault_text import BenchFaults, bench_faults
from coldbench.bench.files import load_bench, parse_bench, shipped_benches
from coldbench.bench.model import Bench
from coldbench.bench.reading import BenchReading, Measured, differences, read
from coldbench.bench.tables import Settings

__all__ = ["Bench", "BenchFaults", "BenchReading", "Measured", "Settings", "bench_faults",
           "differences", "load_bench", "parse_bench", "read", "shipped_benches"]
