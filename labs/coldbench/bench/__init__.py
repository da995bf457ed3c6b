"""A whole training bench: one file, one circuit, one loop, one head, solved together.

    load_bench → Bench;  read → BenchReading: everything that instruments show
    simulate → BenchRun: the same over time;  cycle_of: times and ranges of a limit cycle
    catalogue, numbered, bench_faults: what can be wrong, in four families
    Bench.session → Session: instruments one by one, each use a Taken
    seal, open_sealed: a bench as a file of readings, without what is wrong with it

    tables, rules, build, files, model   bench files: read, checked, made
    merge                                several circuits as the sheets of one
    fault_text                           faults as a person writes them
    air_path, coupling                   one round through the bench
    steady                               rounds until nothing changes, or a limit cycle
    units                                what acts: wiring, clutch, switch, head, doors
    in_time, cycle                       half second after half second; times and ranges of a cycle
    catalogue                            every single fault of a bench
    session, standing, taken             a learner at a bench: every instrument, its cost, its cautions
    outfit, source, instruments          what there is to measure, and where readings come from
    waveform                             what the oscilloscope shows
    repairs                              which part must be put right for a fault
    seal, sealed, sealed_tables          benches as files of readings
    table                                readings of every single fault in several states
    reading, uncertainty                 what instruments show, and how well
    symptoms                             complaints, and whether a reading bears them out
"""

from coldbench.bench.catalogue import BenchFault, catalogue, numbered
from coldbench.bench.cycle import Cycle, Range, cycle_of
from coldbench.bench.fault_text import BenchFaults, bench_faults
from coldbench.bench.files import load_bench, parse_bench, shipped_benches
from coldbench.bench.in_time import BenchEvent, BenchRun, BenchSample, simulate
from coldbench.bench.model import Bench
from coldbench.bench.reading import BenchReading, Measured, differences, read
from coldbench.bench.repairs import repair_of
from coldbench.bench.seal import seal
from coldbench.bench.sealed import SealedBench, open_sealed
from coldbench.bench.session import Session
from coldbench.bench.symptoms import shows, symptoms_shown
from coldbench.bench.table import FaultTable, fault_table
from coldbench.bench.tables import Settings
from coldbench.bench.taken import Taken

__all__ = ["Bench", "BenchEvent", "BenchFault", "BenchFaults", "BenchReading", "BenchRun",
           "BenchSample", "Cycle", "FaultTable", "Measured", "Range", "SealedBench", "Session",
           "Settings", "Taken", "bench_faults", "catalogue", "cycle_of", "differences",
           "fault_table", "load_bench", "numbered", "open_sealed", "parse_bench", "read",
           "repair_of", "seal", "shipped_benches", "shows", "simulate", "symptoms_shown"]
