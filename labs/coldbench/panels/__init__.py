"""Interactive views for notebooks, and pictures with a text alternative.

This room is the only one that draws widgets. Python computes, the browser draws.

controls    sliders, choices, toggles and buttons, declared as data
svg         short functions that write SVG
picture     one drawing: a still background and a moving foreground
panel       `Panel`, the base of every interactive view
shown       which panels a notebook's cells show; a cell that runs again closes its earlier ones
still       the same view without a kernel: HTML with inline SVG and the readings
figures     static matplotlib figures with a text alternative
dial, saturation_chart, gauge_panel
            two gauges and the pressure-temperature chart
state_lines, chart_figure
            pressure-enthalpy and temperature-entropy charts for print
units, cycle_picture, cycle_panel
            the cycle on a live pressure-enthalpy chart
loop_picture, loop_readings, loop_panel
            the bench's refrigerant loop with its gauges and thermometers
wiring_symbols, wiring_nets, wiring_placement, wiring_routing, wiring_layout
            from a circuit file to places on a grid: symbols, rows, columns, ways of wires
wiring_parts, wiring_labels, wiring_words, wiring_diagram, wiring_live, wiring_file
            the wiring diagram as a drawing, in words, and as a file
wiring_panel
            the diagram with test points, a meter and requests to switch
sensor_state, sensor_picture, sensor_panel
            a sensor with its curve, divider, counts and window
bench_view, bench_gauges, bench_display, bench_scene, bench_points
            the whole bench: what is shown, and its four drawings
bench_actions, bench_words, bench_panel
            its instruments as buttons, what they said in words, the panel
tree_words, tree_layout, tree_symbols, tree_diagram
            a fault tree in words and as a drawing with standard gate symbols
tree_draft, tree_panel, suspect_panel
            a fault tree to build, and the list of suspects to narrow down
causes_panel
            causes put into a bench, to see whether the complaint is there
svg_file    any of these drawings as an SVG, PDF or PNG file
browser/    the page's side: one ES module and one style sheet, no build step

The names below load on first use, since widgets and matplotlib take time to import.
"""

from importlib import import_module

_HOMES = {
    "BenchPanel": "bench_panel",
    "CausesPanel": "causes_panel",
    "CyclePanel": "cycle_panel",
    "GaugePanel": "gauge_panel",
    "LoopPanel": "loop_panel",
    "SensorPanel": "sensor_panel",
    "SuspectPanel": "suspect_panel",
    "TreePanel": "tree_panel",
    "WiringPanel": "wiring_panel",
    "write_diagram": "wiring_file",
    "fault_tree": "tree_diagram",
    "write_tree_diagram": "tree_diagram",
    "Panel": "panel",
    "figure_html": "figures",
    "show": "figures",
    "state_chart": "chart_figure",
}

__all__ = ["BenchPanel", "CausesPanel", "CyclePanel", "GaugePanel", "LoopPanel", "Panel",
           "SensorPanel", "SuspectPanel", "TreePanel", "WiringPanel", "fault_tree", "figure_html",
           "show", "state_chart", "write_diagram", "write_tree_diagram"]


def __getattr__(name: str):
    """Load a public name of this room on first use."""
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
