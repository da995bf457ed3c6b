"""Circuits: parts and wires as data, solved for voltages and currents, healthy or faulty.

    load_circuit → Circuit;  solve, solve_sequence, solve_batch → Solution
    Fault, parse_fault, catalogue: what can be wrong;  netlist: the same case for SPICE
"""

from coldbench.electrical.batch import solve_batch
from coldbench.electrical.circuit import Circuit, Part, TestPoint, Wire
from coldbench.electrical.conductors import conductor_table, wire_resistance
from coldbench.electrical.fault_model import Fault, parse_fault
from coldbench.electrical.faults import CatalogueFault, catalogue
from coldbench.electrical.loader import load_circuit, parse_circuit, shipped_circuits
from coldbench.electrical.netlist import netlist
from coldbench.electrical.solution import FuseState, MotorState, Solution
from coldbench.electrical.solver import solve, solve_sequence

__all__ = [
    "CatalogueFault", "Circuit", "Fault", "FuseState", "MotorState", "Part", "Solution",
    "TestPoint", "Wire", "catalogue", "conductor_table", "load_circuit", "netlist",
    "parse_circuit", "parse_fault", "shipped_circuits", "solve", "solve_batch",
    "solve_sequence", "wire_resistance",
]
