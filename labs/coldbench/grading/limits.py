"""Limits on one submission's run; a course may change them in `course.toml`, `[limits]`."""

from collections.abc import Mapping
from dataclasses import dataclass, fields

from coldbench.errors import InputError


@dataclass(frozen=True)
class Limits:
    """How much one submission may use.

    cell_seconds, notebook_seconds [wall time]; memory_MB [address space]; processes;
    file_MB [largest file written]; scratch_MB [private temporary space]; output_MB [all that
    leaves the run]; cell_output_kB [text kept of one cell]; notebook_MB [largest notebook, and
    the most that all files beside it may hold]; marking_seconds [marking one submission].
    """

    cell_seconds: float = 20.0
    notebook_seconds: float = 120.0
    memory_MB: float = 3000.0
    processes: float = 64.0
    file_MB: float = 50.0
    scratch_MB: float = 100.0
    output_MB: float = 24.0
    cell_output_kB: float = 200.0
    notebook_MB: float = 20.0
    marking_seconds: float = 60.0


def limits_from(settings: Mapping[str, float]) -> Limits:
    """Make limits from a course's settings; raises InputError naming the key."""
    known = {item.name for item in fields(Limits)}
    for key, value in settings.items():
        if key not in known:
            raise InputError(f"course.toml: limits.{key}: unknown key; "
                             f"accepted are {', '.join(sorted(known))}")
        if isinstance(value, bool) or not isinstance(value, (int, float)) or not value > 0:
            raise InputError(f"course.toml: limits.{key}: must be a number above 0")
    return Limits(**settings)
