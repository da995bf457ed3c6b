"""Points taken off by a rule of the course: for handing in late, for further attempts.

`course.toml`, all in percent of the lab's points, so that marking by hand changes nothing:

    [penalty]
    late_grace_minutes = 15      # not late yet
    late_percent_per_day = 10    # for each day begun
    late_most_percent = 50
    attempt_percent = 5          # for each attempt before the one that counts
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields

from coldbench.errors import InputError


@dataclass(frozen=True)
class PenaltyRule:
    """How many percent of a lab's points are taken off; see the module."""

    late_grace_minutes: float = 0.0
    late_percent_per_day: float = 0.0
    late_most_percent: float = 100.0
    attempt_percent: float = 0.0

    def points_off(self, points: float, late_seconds: float, attempts_before: int = 0) -> float:
        """Points taken off.

        points [of the lab]; late_seconds [after the due date]; attempts_before [the one that
        counts]. percent = min(most, per day · ceil(days)) + per attempt · attempts_before,
        at most 100.

        >>> PenaltyRule(late_percent_per_day=10, attempt_percent=5).points_off(20, 90_000, 1)
        5.0
        """
        late = max(0.0, late_seconds)
        days = math.ceil(late / 86_400) if late > self.late_grace_minutes * 60 else 0
        percent = min(self.late_most_percent, self.late_percent_per_day * days)
        percent += self.attempt_percent * attempts_before
        return points * min(100.0, percent) / 100


def penalty_rule(settings: Mapping[str, float]) -> PenaltyRule:
    """Make a rule from a course's settings; raises InputError naming the key."""
    known = [item.name for item in fields(PenaltyRule)]
    for key, value in settings.items():
        if key not in known:
            raise InputError(f"course.toml: penalty.{key}: unknown key; "
                             f"accepted are {', '.join(known)}")
        good = isinstance(value, (int, float)) and not isinstance(value, bool)
        if not good or not 0 <= value < math.inf or ("percent" in key and value > 100):
            raise InputError(f"course.toml: penalty.{key}: must be a number from 0"
                             + (" to 100" if "percent" in key else ""))
    return PenaltyRule(**settings)
