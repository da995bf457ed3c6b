"""Which panels the cells of a notebook show: a cell that runs again closes what it showed before.

Without that, each run would leave one more panel in the kernel, in the browser and in the saved
notebook, which grows by 60 kB or more at a time.
"""

from collections.abc import Hashable


class Shown:
    """The panels that each cell showed in its last run.

    >>> class Page:
    ...     def close(self):
    ...         print("closed")
    >>> shown, first, second = Shown(), Page(), Page()
    >>> shown.note(first, "cell 1", run=1)
    >>> shown.note(second, "cell 1", run=2)
    closed
    """

    def __init__(self):
        self._last: dict[Hashable, tuple[Hashable, list]] = {}

    def note(self, panel, cell: Hashable, run: Hashable) -> None:
        """Note that a run of a cell shows a panel; close those that no cell shows any more.

        Parameters
        ----------
        panel : anything with `close()`
        cell : the cell's own name, the same at every run; "" for none: nothing is closed
        run : this run's own name; one run may show several panels
        """
        if not cell:
            return
        before, panels = self._last.get(cell, (run, []))
        if before == run:
            self._last[cell] = run, [*panels, panel]
            return
        self._last[cell] = run, [panel]
        in_view = {id(one) for _, shown in self._last.values() for one in shown}
        for one in panels:
            if id(one) not in in_view:
                one.close()


def running_cell() -> tuple[str, str]:
    """The cell that runs now and its run, as the notebook names them; "" where it names none."""
    from IPython import get_ipython

    kernel = getattr(get_ipython(), "kernel", None)
    asked = kernel.get_parent("shell") if kernel else {}
    return asked.get("metadata", {}).get("cellId", ""), asked.get("header", {}).get("msg_id", "")
