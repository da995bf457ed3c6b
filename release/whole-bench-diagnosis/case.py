"""A learner's three benches for the lab on whole-bench diagnosis.

Which benches there are stands in `benches/assigned.json`, or, while nothing is assigned, in
`benches/practice.json`. Both hold what a learner may know: numbers, files, complaints. What is wrong with
a bench is in neither.
"""

import json
from functools import cache
from pathlib import Path

from coldbench.worksheet import Draw, Given

FOLDER = Path(__file__).with_name("benches")
ASSIGNED, PRACTICE = "assigned.json", "practice.json"


@cache
def benches(name: str, stamp: int) -> dict:
    """The public list of benches and trios."""
    return json.loads((FOLDER / name).read_text("utf-8"))


def listed(practising: bool) -> dict:
    """The list that counts: the assigned benches for a learner, else the practice benches."""
    name = ASSIGNED if (FOLDER / ASSIGNED).is_file() and not practising else PRACTICE
    return benches(name, (FOLDER / name).stat().st_mtime_ns)


def draw(draw: Draw) -> list[Given]:
    """Draw a learner's three benches, the easiest first."""
    found = listed(draw.practising)
    trio = draw.choice("trio", found["trios"])
    return [given for n, number in enumerate(trio, start=1)
            for given in bench(n, number, found["benches"][number])]


def bench(n: int, number: str, known: dict) -> list[Given]:
    """One bench as its learner knows it."""
    label = f"bench {n}: "
    return [
        Given(f"bench_{n}_number", number, label + "its number"),
        Given(f"bench_{n}_complaint", known["complaint"], label + "the customer says"),
        Given(f"bench_{n}_state", known["state"], label + "noticed in the state"),
        Given(f"bench_{n}_file", known["file"], label + "its file"),
    ]
