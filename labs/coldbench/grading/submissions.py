"""Finding submissions on the grading desk: `autograde/submitted/<learner>/<lab>/<lab>.ipynb`."""

import os
import stat
import unicodedata
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

from coldbench.errors import InputError
from coldbench.grading.course import Course
from coldbench.grading.job import Job
from coldbench.grading.limits import Limits
from coldbench.worksheet.cases import clean_learner_id

MOST_FILES = 50


def find_submissions(course: Course, lab: str, limits: Limits,
                     ) -> tuple[list[Job], list[tuple[str, str]]]:
    """Find a lab's submissions.

    Returns jobs sorted by learner, and (learner, reason) for folders that were refused.
    """
    jobs, refused, seen = [], [], {}
    folders = sorted(course.submitted.iterdir()) if course.submitted.is_dir() else []
    for folder in folders:
        if not (folder / lab).is_dir() or folder.name.startswith("."):
            continue
        try:
            learner = checked_learner(folder.name, seen)
            jobs.append(_job(course, lab, learner, folder / lab, limits))
        except InputError as error:
            refused.append((folder.name, str(error)))
    return jobs, refused


def checked_learner(name: str, seen: dict[str, str]) -> str:
    """Check a folder's name as a learner id; ids that differ only in case are refused."""
    learner = clean_learner_id(name)
    if learner != name or name.startswith((".", "-")):
        raise InputError(f"the folder name {name!r} cannot be used as a learner id; "
                         "rename it without surrounding blanks, leading dots or dashes")
    folded = unicodedata.normalize("NFKC", learner).casefold()
    if seen.setdefault(folded, learner) != learner:
        raise InputError(f"the ids {seen[folded]!r} and {learner!r} differ only in case; "
                         "give one of them another id")
    return learner


def _job(course: Course, lab: str, learner: str, folder: Path, limits: Limits) -> Job:
    if folder.is_symlink() or folder.parent.is_symlink():
        raise InputError(f"{folder} is a link; submissions must be real folders")
    files = dict(_plain_files(folder, limits))
    data = files.pop(f"{lab}.ipynb", None)
    if data is None:
        # A single notebook under another name is taken for the lab's.
        others = [name for name in files if name.endswith(".ipynb") and "/" not in name]
        data = files.pop(others[0]) if len(others) == 1 else None
    stamp = files.pop("timestamp.txt", b"").decode("utf-8", "replace").strip()
    moment = _moment(stamp)
    due = course.due.get(lab)
    late = max(0.0, (moment - due).total_seconds()) if moment and due else 0.0
    kept = tuple((name, body) for name, body in sorted(files.items())
                 if not name.endswith(".ipynb"))
    return Job(learner, data, kept, moment.isoformat() if moment else "", late)


def _moment(stamp: str) -> datetime | None:
    """Read a time of handing in, as nbgrader writes it; None when there is none to read."""
    import dateutil.parser

    if not stamp:
        return None
    try:
        moment = dateutil.parser.parse(stamp.removesuffix(" UTC"))
    except (ValueError, OverflowError):
        return None
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)


def _plain_files(folder: Path, limits: Limits) -> Iterator[tuple[str, bytes]]:
    """Read the plain files of a submission; links, devices and giants are passed over."""
    count = 0
    for base, folders, names in os.walk(folder, followlinks=False):
        folders[:] = sorted(f for f in folders if not f.startswith((".", "__")))
        for name in sorted(names):
            path = Path(base) / name
            relative = path.relative_to(folder).as_posix()
            about = path.lstat()
            if not stat.S_ISREG(about.st_mode) or name.startswith("."):
                continue
            is_notebook = relative.endswith(".ipynb")
            count += 1
            if count > MOST_FILES or (about.st_size > limits.notebook_MB * 1e6 and not is_notebook):
                continue
            with path.open("rb") as stream:
                yield relative, stream.read(int(limits.notebook_MB * 1e6) + 1)
