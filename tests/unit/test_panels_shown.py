"""Panels of a cell that runs again: closed when nothing shows them, and open when shown again."""

from unittest import mock

import pytest

from coldbench.panels import GaugePanel
from coldbench.panels.shown import Shown


@pytest.fixture
def display():
    """Function that displays a panel in a run of a cell."""
    shown = Shown()

    def displayed(panel, cell, run):
        with (mock.patch("coldbench.panels.panel._shown", shown), mock.patch(
                "coldbench.panels.panel.running_cell", lambda: (cell, run)), mock.patch(
                "IPython.display.display") as put):  # fmt: skip
            panel._ipython_display_()
        return put.call_args_list[0].args[0]

    return displayed


def is_open(panel) -> bool:
    """True while the page can reach the panel."""
    return panel.comm is not None


def test_a_cell_run_thirty_times_leaves_one_panel(display):
    panels = []
    for run in range(30):
        panels.append(GaugePanel("R-134a"))
        display(panels[-1], "cell", f"run {run}")
    assert [is_open(panel) for panel in panels] == [False] * 29 + [True]
    assert not any(panel.layout.comm for panel in panels[:-1])


def test_two_panels_of_one_run_stay_and_so_does_one_that_another_cell_shows(display):
    here, beside, new = (GaugePanel("R-134a") for _ in range(3))
    display(here, "first", "1")
    display(beside, "first", "1")
    display(here, "second", "2")
    assert is_open(here) and is_open(beside)
    display(new, "first", "3")
    assert is_open(here) and is_open(new) and not is_open(beside)


def test_a_closed_panel_opens_again_as_it_stood(display):
    panel = GaugePanel("R-134a", low_side=212)
    model = panel.model_id
    display(panel, "cell", "1")
    display(GaugePanel("R-134a"), "cell", "2")
    panel.set(low_side=220)  # nobody sees it, and nothing is lost
    data = display(panel, "other", "3")
    assert is_open(panel) and panel.model_id == model
    assert "220" in data["text/plain"]
    panel._request = {"page": "p", "number": 1, "changes": {"low_side": {"value": 230}}}
    assert panel._frame["answers"] == ["p", 1]
    assert panel.readings()["low_side_gauge_kPa"] == pytest.approx(230)


def test_where_cells_have_no_names_nothing_is_closed(display):
    panels = [GaugePanel("R-134a") for _ in range(2)]
    for panel in panels:
        display(panel, "", "")
    assert all(map(is_open, panels))
