"""A wiring diagram as a file: SVG, or PDF through a headless browser, ready to print.

In a program:

    write_diagram(load_circuit("clutch"), "clutch.svg")
"""

from pathlib import Path

from coldbench.panels.picture import Picture
from coldbench.panels.svg import tag, text
from coldbench.panels.svg_file import svg_document, write_drawing
from coldbench.panels.wiring_diagram import diagram
from coldbench.panels.wiring_live import REST, Live, live_of, moving
from coldbench.panels.wiring_words import describe

LEGEND = ("Beside each wire: circuit number / size in mm². A number in a circle: test point. "
          "A heavy line: splice or post.")  # fmt: skip


def wiring_picture(circuit, live: Live = REST, said: str = "") -> Picture:
    """The diagram of a circuit as a picture with its text alternative.

    Parameters
    ----------
    circuit : `coldbench.electrical.Circuit`
    live : contacts and values to show
    said : words about the state, put before the description
    """
    drawn = diagram(circuit)
    words = f"{said} {describe(circuit)}".strip()
    return Picture("wiring", drawn.width, drawn.height, f"Wiring diagram: {circuit.title}", words,
                   drawn.still, moving(drawn, live))  # fmt: skip


def diagram_svg(circuit, live: Live = REST, said: str = "") -> str:
    """The diagram as one SVG document with title, legend and style of its own."""
    picture = wiring_picture(circuit, live, said)
    width, height = max(picture.width, 640), picture.height + 84
    head = text(16, 30, circuit.title, "cb-name", "start")
    head += text(16, 50, said or f"{circuit.name}, drawn at rest", "cb-small", "start")
    foot = text(16, height - 10, LEGEND, "cb-wd-small", "start")
    inner = tag("g", picture.background, picture.foreground, transform="translate(0 56)")
    return svg_document(picture.title, picture.description, head + inner + foot, width, height)


def write_diagram(circuit, file, live: Live = REST, said: str = "") -> Path:
    """Write the diagram of a circuit to a file [.svg or .pdf].

    Raises
    ------
    InputError : another kind of file, a folder that is not there, no browser for a PDF
    """
    return write_drawing(diagram_svg(circuit, live, said), file, "Wiring diagram", "a diagram")


def write_live_diagram(circuit, file, solution, state: str) -> Path:
    """Write the diagram with volts, amps and relays of a solved case.

    Parameters
    ----------
    circuit, file : as for `write_diagram`
    solution : `coldbench.electrical.Solution`
    state : name of the state, for the line below the title
    """
    said = f"State {state.replace('_', ' ')}: volts against {circuit.ground}, amps, relays."
    return write_diagram(circuit, file, live_of(circuit, solution.settings, solution), said)
