"""A course folder: where its parts lie and what its term is called.

A course is a folder that holds `autograde/course.toml`. Commands find it by walking up from
where they are called, or take `--course DIR`.
"""

import os
import tomllib
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from coldbench.errors import InputError
from coldbench.grading.database import VARIABLE, database_address

MARKER = Path("autograde") / "course.toml"
_KEYS = {"title", "code", "due", "limits", "gradebook", "collect", "penalty"}


@dataclass(frozen=True)
class Course:
    """A course folder and its settings.

    root; title; code [public, a new one each term: learners' cases depend on it];
    due [lab → moment]; limits [see `limits.py`]; gradebook [its address or file, empty: the
    one that COLDBENCH_GRADEBOOK names, else a file on the desk]; collect [see `collect.py`];
    penalty [see `penalty.py`].
    """

    root: Path
    title: str = "Coldbench course"
    code: str = "practice"
    due: dict[str, datetime] = field(default_factory=dict)
    limits: dict[str, float] = field(default_factory=dict)
    gradebook: str = ""
    collect: dict[str, str] = field(default_factory=dict)
    penalty: dict[str, float] = field(default_factory=dict)

    @property
    def source(self) -> Path:
        """Lab sources with solutions and hidden checks."""
        return self.root / "source"

    @property
    def release(self) -> Path:
        """Student notebooks."""
        return self.root / "release"

    @property
    def desk(self) -> Path:
        """The grading desk, `autograde/`."""
        return self.root / "autograde"

    @property
    def submitted(self) -> Path:
        """Submissions: `<learner>/<lab>/<lab>.ipynb`."""
        return self.desk / "submitted"

    @property
    def records(self) -> Path:
        """Records of graded submissions."""
        return self.desk / "records"

    @property
    def gradebook_url(self) -> str:
        """The gradebook's database address; it may hold a password, so it is never shown."""
        return database_address(self.gradebook or os.environ.get(VARIABLE, ""), self.desk)

    @property
    def attempts(self) -> Path:
        """Every attempt that was collected: `<lab>/<learner>/<number>/`."""
        return self.desk / "attempts"

    def labs(self) -> list[str]:
        """Names of the labs in source/, in teaching order."""
        from coldbench.worksheet import read_manifest

        found = [path.parent for path in self.source.glob("*/lab.toml")]
        return [f.name for f in sorted(found, key=lambda f: (read_manifest(f).order, f.name))]

    def check_due(self) -> None:
        """Refuse a due date of no lab: a slip of the pen would make everybody punctual."""
        if unknown := sorted(set(self.due) - set(self.labs())):
            raise InputError(f"{self.root / MARKER}: due.{unknown[0]}: there is no lab of this "
                             f"name; the labs are {', '.join(self.labs()) or 'none yet'}")

    def require_lab(self, lab: str) -> str:
        """Check that a lab exists; raises InputError naming those that do."""
        if not (self.source / lab / "lab.toml").is_file():
            names = ", ".join(self.labs()) or "none yet"
            raise InputError(f"there is no lab {lab!r} in {self.source}; the labs are: {names}")
        return lab


def find_course(start: Path | str | None = None, gradebook: str | None = None) -> Course:
    """Find the course that holds a folder.

    start [default: the working directory]; gradebook [address or file of the gradebook, in
    place of what the course says]. Raises InputError outside any course.
    """
    here = Path(start or Path.cwd()).resolve()
    for folder in (here, *here.parents):
        if (folder / MARKER).is_file():
            course = read_course(folder)
            return replace(course, gradebook=gradebook) if gradebook else course
    raise InputError(
        f"{here} is not inside a course (no folder above it holds {MARKER}); "
        "go to a course folder or add --course DIR"
    )


def read_course(root: Path) -> Course:
    """Read a course's settings; raises InputError with file, key and reason."""
    path = root / MARKER
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise InputError(f"{path} cannot be read: {error}") from None
    if unknown := set(table) - _KEYS:
        raise InputError(f"{path}: {sorted(unknown)[0]}: unknown key; "
                         f"accepted are {', '.join(sorted(_KEYS))}")
    for key in ("title", "code", "gradebook"):
        if not isinstance(table.get(key, ""), str):
            raise InputError(f"{path}: {key}: must be text")
    for key in ("due", "limits", "collect", "penalty"):
        if not isinstance(table.get(key, {}), dict):
            raise InputError(f"{path}: {key}: must be a table, [{key}]")
    due = {lab: _moment(path, lab, moment) for lab, moment in table.pop("due", {}).items()}
    return Course(root=root, due=due, **table)


def _moment(path: Path, lab: str, value: Any) -> datetime:
    if not isinstance(value, datetime):
        raise InputError(f"{path}: due.{lab}: must be a date with a time such as "
                         "2026-12-04T17:00:00Z")
    return value if value.tzinfo else value.replace(tzinfo=UTC)
