"""The page a learner sees first: `release/start.md`, listing the labs that have been released.

It stands beside the labs and points only at them, so it also works for a learner who was
handed the release folder alone.
"""

from pathlib import Path

from coldbench.errors import InputError
from coldbench.worksheet.manifest import Manifest, read_manifest

START_PAGE = "start.md"

_HEAD = """\
# The labs

Welcome. Each lab explains, lets you try things on a panel, and asks questions.
Your numbers are your own: another learner has other ones.
"""

_TAIL = """\
## How a lab works

1. Click a lab above. It opens as a notebook, made of cells.
2. Near the top is a cell that begins with `LEARNER =`. Put your learner id between the quotes,
   for example `LEARNER = "ml-07"`. Without it you get the practice numbers.
3. Run the cells from the top: click a cell and press **Shift+Enter**. Then go on to the next.
   After a break, use the menu *Run → Run All Cells*, unless the lab says otherwise: a
   measurement that is taken again costs its minutes again.
4. Write your answers in the cells marked as yours. The cell below says at once whether your
   answer has a usable form: a number, a unit that fits, a plausible size. It does not say
   whether the answer is right.
5. Cells marked as locked belong to the lab. If you changed one by mistake, undo it or fetch
   the lab again; your marks come from your answer cells only.

## How to submit

Save the notebook (**Ctrl+S**). Then hand in the notebook file, without changing its name, in
the way your teacher told you. If a file `journal.jsonl` lies beside it, hand that in as well: it
holds your measurements. If you hand in more than once, your teacher says which one counts.

## By keyboard

- **Enter** starts writing in a cell, **Esc** stops. The arrow keys move between cells.
- **Tab** moves into a panel and from control to control. Arrow keys move a slider one step,
  **Page Up** and **Page Down** several, **Home** and **End** to its ends.
- Every slider has a box beside it: type the number there.
- Every panel says its readings in words under the picture.

## Cautions

These labs are worked on a screen. In the workshop, refrigerant, batteries, fans, belts and
mains can hurt you: liquid refrigerant freezes skin and eyes, and a fan or a belt may start
without warning. Wear eye protection and gloves. Touch a real bench only when your teacher
says so. Local codes, the vehicle maker's service information and licensed practice come first.
"""


def write_start_page(release_dir: Path) -> Path:
    """Write the start page of a release folder from each lab's `lab.toml`.

    Parameters
    ----------
    release_dir : folder that holds one folder per released lab

    Returns
    -------
    Path
        the page written

    Raises
    ------
    InputError : no such folder, or a `lab.toml` that cannot be read
    """
    release_dir = Path(release_dir)
    if not release_dir.is_dir():
        raise InputError(f"{release_dir} is not a folder; build the labs first")
    page = release_dir / START_PAGE
    page.write_text(start_page(released_labs(release_dir)), encoding="utf-8")
    return page


def released_labs(release_dir: Path) -> list[Manifest]:
    """The labs of a release folder, in teaching order."""
    folders = (path.parent for path in Path(release_dir).glob("*/lab.toml"))
    return sorted((read_manifest(f) for f in folders), key=lambda m: (m.order, m.lab))


def start_page(labs: list[Manifest]) -> str:
    """The start page's text, Markdown."""
    return "\n".join((_HEAD, _lab_list(labs), _TAIL))


def _lab_list(labs: list[Manifest]) -> str:
    if not labs:
        return "No lab has been released yet.\n"
    rows = [
        f"| {m.order} | [{m.title}]({m.lab}/{m.lab}.ipynb) | {_hours(m.hours)} |" for m in labs
    ]
    return "\n".join(("| Lab | Title | Time |", "| ---: | :--- | :--- |", *rows, ""))


def _hours(hours: float) -> str:
    """Hours in words.

    >>> _hours(1), _hours(1.5)
    ('1 hour', '1.5 hours')
    """
    return "1 hour" if hours == 1 else f"{hours:g} hours"
