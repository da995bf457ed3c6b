"""Finding submissions on the grading desk: `autograde/submitted/<learner>/<lab>/<lab>.ipynb`."""

import os
import re
import stat
import unicodedata
from datetime import UTC, datetime, tzinfo
from pathlib import Path

from coldbench.errors import InputError
from coldbench.grading.attempts import account
from coldbench.grading.course import Course
from coldbench.grading.job import Job
from coldbench.grading.limits import Limits
from coldbench.grading.sources import read_plain
from coldbench.worksheet.cases import clean_learner_id

MOST_FILES = 50
MOST_NOTES = 20
MOST_NAMED = 4
LONGEST_ID_BYTES = 200  # leaves room for endings in file names of at most 255 bytes


def find_submissions(course: Course, lab: str, limits: Limits,
                     ) -> tuple[list[Job], list[tuple[str, str]]]:
    """Find and read a lab's submissions, all at once.

    Returns jobs sorted by learner, and (learner, reason) for folders that were refused.
    """
    jobs = []
    folders, refused = submission_folders(course, lab)
    for learner, folder in folders:
        job, reason = read_submitted(course, lab, learner, folder, limits)
        jobs += [job] if job else []
        refused += [(learner, reason)] if reason else []
    return jobs, sorted(refused)


def submission_folders(course: Course, lab: str,
                       ) -> tuple[list[tuple[str, Path]], list[tuple[str, str]]]:
    """Find the folders of a lab's submissions; none is read yet.

    Returns (learner, folder) sorted by learner, and (name, reason) for those refused.
    """
    found, refused, seen = [], [], {}
    folders = sorted(course.submitted.iterdir()) if course.submitted.is_dir() else []
    for folder in folders:
        if not (folder / lab).is_dir() or folder.name.startswith("."):
            continue
        try:
            found.append((checked_learner(folder.name, seen), folder / lab))
        except InputError as error:
            refused.append((folder.name, str(error)))
    return found, refused


def read_submitted(course: Course, lab: str, learner: str, folder: Path, limits: Limits,
                   ) -> tuple[Job | None, str]:
    """Read one submission's folder; returns the job, or None and why it is refused."""
    try:
        return job_from(course, lab, learner, folder, limits), ""
    except InputError as error:
        return None, str(error)
    except OSError as error:
        return None, f"the folder cannot be read: {error.strerror}"
    except Exception as error:  # one folder's trouble must not stop the class
        return None, f"the folder cannot be read ({type(error).__name__}: {error})"


def checked_learner(name: str, seen: dict[str, str]) -> str:
    """Check a folder's name as a learner id; ids that differ only in case are refused."""
    learner = clean_learner_id(name)
    if learner != name or name.startswith((".", "-")):
        raise InputError(f"the folder name {name!r} cannot be used as a learner id; rename it "
                         "without surrounding blanks, leading dots or dashes, and with letters "
                         "in their composed form")
    if len(learner.encode()) > LONGEST_ID_BYTES:
        raise InputError(f"the learner id {learner[:20]!r}… takes {len(learner.encode())} bytes; "
                         f"at most {LONGEST_ID_BYTES} fit into file names")
    folded = unicodedata.normalize("NFKC", learner).casefold()
    if seen.setdefault(folded, learner) != learner:
        raise InputError(f"the ids {seen[folded]!r} and {learner!r} differ only in case; "
                         "give one of them another id")
    return learner


def job_from(course: Course, lab: str, learner: str, folder: Path, limits: Limits) -> Job:
    """Read one submission's folder; raises InputError for a link."""
    if folder.is_symlink() or folder.parent.is_symlink():
        raise InputError(f"{folder} is a link; submissions must be real folders")
    files, notes = _plain_files(folder, f"{lab}.ipynb", limits)
    data = _notebook_of(files, lab, notes)
    notes += account(course, lab, learner)
    stamp = files.pop("timestamp.txt", b"")[:100].decode("utf-8-sig", "replace").strip()
    moment = read_moment(stamp)
    if stamp and moment is None:
        notes.append(f"The time of handing in, {stamp[:40]!r}, cannot be read, so the work counts "
                     "as on time; timestamp.txt holds a time such as 2026-12-04 16:30:00 UTC.")
    due = course.due.get(lab)
    late = max(0.0, (moment - due).total_seconds()) if moment and due else 0.0
    kept = tuple((name, body) for name, body in sorted(files.items())
                 if not name.endswith(".ipynb"))
    return Job(learner, data, kept, moment.isoformat() if moment else "", late, tuple(notes))


def _notebook_of(files: dict[str, bytes], lab: str, notes: list[str]) -> bytes | None:
    """Take the notebook out of a submission's files; say what lies there when none fits."""
    data = files.pop(f"{lab}.ipynb", None)
    if data is not None:
        return data
    # A single notebook under another name is taken for the lab's.
    others = [name for name in files if name.endswith(".ipynb") and "/" not in name]
    if len(others) == 1:
        notes.append(f"The notebook was called {others[0]!r}; it was taken for {lab}.ipynb.")
        return files.pop(others[0])
    names = [name for name in files if name != "timestamp.txt"]
    if names:
        more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
        notes.append(f"No file is called {lab}.ipynb; there is "
                     f"{', '.join(map(repr, names[:MOST_NAMED]))}{more}. "
                     "Rename or unpack the right one and grade again.")
    return None


def read_moment(stamp: str) -> datetime | None:
    """Read a time of handing in; None when it cannot be read for certain.

    stamp [ISO 8601, or as nbgrader writes it: the time, a blank and UTC, an offset such as
    +0100, or the name of a time zone such as Europe/Berlin; without any of them UTC].

    >>> read_moment("2026-12-04 17:30:00.000000 Europe/Berlin").isoformat()
    '2026-12-04T16:30:00+00:00'
    >>> read_moment("06.03.2026 19:00") is None
    True
    """
    words = stamp.split()
    zone: tzinfo | None = UTC
    if len(words) == 3:
        zone = find_zone(words.pop())
    if ":" not in stamp:  # a day alone does not say whether it was in time
        return None
    try:
        moment = datetime.fromisoformat(" ".join(words))
        return _in_utc(moment, zone) if zone else None
    except (ValueError, OverflowError):
        return None


def _in_utc(moment: datetime, zone: tzinfo) -> datetime:
    return (moment if moment.tzinfo else moment.replace(tzinfo=zone)).astimezone(UTC)


def find_zone(name: str) -> tzinfo | None:
    """Find a time zone by its offset or its name; None when there is no such zone."""
    from dateutil.tz import gettz

    if name in ("UTC", "Z", "GMT"):
        return UTC
    if re.fullmatch(r"[+-](?:[01][0-9]|2[0-3]):?[0-5][0-9]", name):
        return datetime.strptime(name, "%z").tzinfo
    # A name of three letters means different zones in different countries.
    return gettz(name) if re.fullmatch(r"[A-Za-z_]+(/[\w+-]+)+", name) else None


def misplaced(course: Course) -> list[str]:
    """Name notebooks below `submitted/` that no lab finds [relative to it]: a wrong folder."""
    labs = set(course.labs())
    found = []
    for path in sorted(course.submitted.rglob("*.ipynb")):
        parts = path.relative_to(course.submitted).parts
        hidden = any(part.startswith((".", "__")) for part in parts)
        if not hidden and (len(parts) < 3 or parts[1] not in labs):
            found.append("/".join(parts))
    return found


def _plain_files(folder: Path, first: str, limits: Limits) -> tuple[dict[str, bytes], list[str]]:
    """Read the plain files of a submission.

    first [the file read before all others]. Returns {relative name: bytes}, and sentences on
    the links, devices, giants and surplus files that were left out.
    """
    files: dict[str, bytes] = {}
    notes: list[str] = []
    room = limits.notebook_MB * 1e6
    for relative in _names_below(folder, first):
        path = folder / relative
        about = path.lstat()
        # One that is too large to be graded is read all the same, so that this can be said.
        read_anyway = relative == first or relative.endswith(".ipynb") and room > 0
        if why := _not_wanted(relative, about.st_mode, len(files)):
            notes.append(f"The file {relative!r} was left out: {why}.")
        elif about.st_size > room and not read_anyway:
            notes.append(f"The file {relative!r} was left out: the files beside a notebook may "
                         f"hold {limits.notebook_MB:g} MB together.")
        else:
            files[relative] = read_plain(path, int(limits.notebook_MB * 1e6) + 1)
            room -= 0 if relative == first else len(files[relative])
    if len(notes) > MOST_NOTES:
        notes[MOST_NOTES:] = [f"{len(notes) - MOST_NOTES} more files were left out."]
    return files, notes


def _names_below(folder: Path, first: str) -> list[str]:
    """Names of a folder's entries that are not folders [relative], hidden ones left out."""
    names = []
    for base, folders, entries in os.walk(folder, followlinks=False):
        links = [f for f in folders if os.path.islink(os.path.join(base, f))]
        folders[:] = sorted(f for f in folders
                            if not f.startswith((".", "__")) and f not in links)
        names += [(Path(base) / name).relative_to(folder).as_posix()
                  for name in sorted([*entries, *links]) if not name.startswith(".")]
    return sorted(names, key=lambda name: name != first)


def _not_wanted(relative: str, mode: int, count: int) -> str:
    """Say why a submission's entry is not read; empty when it is."""
    if stat.S_ISLNK(mode):
        return "it is a link"
    if not stat.S_ISREG(mode):
        return "it is not a plain file"
    if not relative.isprintable():
        return "its name holds characters that cannot be shown"
    return f"more than {MOST_FILES} files were handed in" if count >= MOST_FILES else ""
