"""Fast properties and chart lines against plain calls of CoolProp in the same run, as ratios.
"""

import time
from typing import Callable

from coldbench.refrigerant.chart_data import _built, chart_data
from coldbench.refrigerant.cycle import CycleParts, solve_cycle
from coldbench.refrigerant.properties import properties

STATES = [(2e5 + 700.0 * i, 410e3 + 20.0 * i) for i in range(1500)]  # vapour, new p each time


def best_time(action: Callable[[], object], repeats: int = 5) -> float:
    """Shortest of some runs, of this process's own processor time [s]."""
    times = []
    for _ in range(repeats):
        start = time.process_time()
        action()
        times.append(time.process_time() - start)
    return min(times)


def test_temperature_of_vapour_against_plain_calls(tell):
    from CoolProp import AbstractState, HmassP_INPUTS
    from CoolProp.CoolProp import PropsSI

    known, state = properties("R134a"), AbstractState("HEOS", "R134a")

    def low_level() -> None:
        for p, h in STATES:
            state.update(HmassP_INPUTS, h, p)
            state.T()

    known._column.cache_clear()
    table = best_time(lambda: [known.vapour_temperature(p, h) for p, h in STATES], 1)
    plain = best_time(lambda: [PropsSI("T", "P", p, "H", h, "R134a") for p, h in STATES], 2)
    flash = best_time(low_level, 2)
    each = 1e6 / len(STATES)
    tell(f"T(p, h) of vapour: table {table * each:.1f} µs, low-level flash {flash * each:.1f} µs, "
         f"plain call {plain * each:.1f} µs: {flash / table:.1f} and {plain / table:.1f} times")
    assert plain / table > 3.0


def test_cycle_against_plain_calls(tell):
    from CoolProp.CoolProp import PropsSI

    parts = CycleParts(superheat_K=6.0, subcooling_K=5.0, isentropic_efficiency=0.7,
                       mass_flow_kg_s=0.03)

    def plain() -> None:
        def ask(what, *given):
            return PropsSI(what, *given, "R134a")

        h1 = ask("H", "P", 250e3, "T", ask("T", "P", 250e3, "Q", 1) + 6.0)
        h3 = ask("H", "P", 1.2e6, "T", ask("T", "P", 1.2e6, "Q", 0) - 5.0)
        s1 = ask("S", "P", 250e3, "H", h1)
        h2 = h1 + (ask("H", "P", 1.2e6, "S", s1) - h1) / 0.7
        # the seven states, each with T, s and density as the cycle gives them
        for p, h in ((250e3, h1), (250e3, h1), (1.2e6, h2), (1.2e6, h2), (1.2e6, h3),
                     (1.2e6, h3), (250e3, h3)):
            for what in ("T", "S", "D"):
                ask(what, "P", p, "H", h)

    ours = best_time(lambda: [solve_cycle("R134a", 250e3, 1.2e6, parts) for _ in range(50)]) / 50
    theirs = best_time(lambda: [plain() for _ in range(50)]) / 50
    tell(f"cycle: {ours * 1e6:.0f} µs, plain calls {theirs * 1e6:.0f} µs: "
         f"{theirs / ours:.1f} times")
    assert theirs / ours > 2.0


def test_chart_lines_against_plain_calls(tell):
    from CoolProp.CoolProp import PropsSI

    def fresh() -> None:
        _built.cache_clear()
        chart_data("R134a")

    chart = chart_data("R134a")
    lines = (*chart.isotherms, *chart.isobars, *chart.isentropes, *chart.quality_lines)
    points = [(float(p), float(h)) for line in lines
              for p, h in zip(line.pressure_Pa, line.enthalpy_J_kg)]

    def plain() -> None:
        for p, h in points[::10]:  # a tenth of the points is enough to compare
            PropsSI("T", "P", p, "H", h, "R134a")
            PropsSI("S", "P", p, "H", h, "R134a")

    ours, theirs = best_time(fresh), 10 * best_time(plain, 2)
    tell(f"chart of {len(points)} points: {ours * 1e3:.1f} ms, plain calls "
         f"{theirs * 1e3:.0f} ms: {theirs / ours:.0f} times")
    assert theirs / ours > 5.0
