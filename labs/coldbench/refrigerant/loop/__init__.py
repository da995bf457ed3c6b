"""The refrigerant loop of the bench: settings and faults in, gauges and thermometers out.

`solve_loop(Conditions(...), faults=["air-in-system=0.5"])` gives the steady state as a
`LoopResult`. `parts` holds sizes, `faults` the catalogue; `compressor`, `condenser`,
`evaporator`, `valve` and `charge` each one relation of a part; `balance` walks once around the
loop; `newton` and `solver` close it; `rest` is the loop at a standstill.
"""

from coldbench.refrigerant.loop.conditions import Conditions, condenser_airflow
from coldbench.refrigerant.loop.faults import Fault, fault, fault_kinds
from coldbench.refrigerant.loop.parts import LoopParts, blue_parts, load_parts
from coldbench.refrigerant.loop.result import FLAGS, LoopResult
from coldbench.refrigerant.loop.solver import solve_loop

__all__ = [
    "FLAGS", "Conditions", "Fault", "LoopParts", "LoopResult", "blue_parts",
    "condenser_airflow", "fault", "fault_kinds", "load_parts", "solve_loop",
]
