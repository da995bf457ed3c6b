"""Good ways for the reference answers: what the desk knows of a learner's three benches.

Reference answers and seeded mistakes use PATH_1 to PATH_3 [calls of a bench, from the complaint to
the repair and the test run], CAUSE_1 to CAUSE_3 [part, mode] and OTHER_1 to OTHER_3 [a part that is sound].
"""

from pathlib import Path

from coldbench.worksheet import draw_case
from coldbench.worksheet.bench_keys import desk_keys

SOUND = ("belt", "condenser")


def names(folder: Path, course: str, learner: str) -> dict[str, object]:
    """Names and values for one learner."""
    case, keys = draw_case(folder, folder.name, course, learner), desk_keys(folder)
    found: dict[str, object] = {}
    for n in (1, 2, 3):
        key = keys.key(getattr(case, f"bench_{n}_number"))
        found[f"PATH_{n}"] = [list(call) for call in key.path]
        found[f"CAUSE_{n}"] = (key.part, key.mode)
        found[f"OTHER_{n}"] = next(part for part in SOUND if part != key.part)
    return found
