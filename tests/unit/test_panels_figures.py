"""Static figures carry their text alternative into the page."""

import xml.etree.ElementTree as ElementTree

import pytest
from matplotlib.figure import Figure

from coldbench.errors import InputError
from coldbench.panels import figure_html, show

SVG = "{http://www.w3.org/2000/svg}"


def drawn() -> Figure:
    """A small figure with a line."""
    figure = Figure(figsize=(3, 2))
    figure.subplots().plot([0, 1], [0, 2])
    return figure


def test_the_words_are_inside_the_drawing():
    html = figure_html(drawn(), alt='Pressure "p" < 2 bar & rising', caption="Figure 1 <b>")
    root = ElementTree.fromstring(html)
    svg = root.find(f"{SVG}svg")
    assert svg.get("role") == "img"
    assert svg[0].tag == f"{SVG}title" and svg[0].text == 'Pressure "p" < 2 bar & rising'
    assert root.find("figcaption").text == "Figure 1 <b>"


def test_two_figures_on_a_page_share_no_id():
    ids = [
        {e.get("id") for e in ElementTree.fromstring(figure_html(drawn(), alt="A line.")).iter()}
        - {None}
        for _ in range(2)
    ]
    assert ids[0] and not ids[0] & ids[1]


def test_every_reference_finds_its_target():
    html = figure_html(drawn(), alt="A line.")
    import re

    targets = set(re.findall(r'\bid="([^"]+)"', html))
    references = set(re.findall(r'(?:url\(#|href="#)([^")]+)', html))
    assert references and references <= targets


@pytest.mark.parametrize("alt", ["", "  ", None])
def test_a_figure_without_words_is_refused(alt):
    with pytest.raises(InputError, match="no text alternative"):
        figure_html(drawn(), alt=alt)


def test_show_displays_html_and_closes_the_figure(monkeypatch):
    from IPython import display as notebook
    from matplotlib import pyplot

    shown = []
    monkeypatch.setattr(notebook, "display", shown.append)
    figure = pyplot.figure()
    show(figure, alt="Nothing yet.")
    assert "<title>Nothing yet.</title>" in shown[0].data
    assert not pyplot.fignum_exists(figure.number)
