"""What tests of grading share: a small course, built once, and a desk to hand work in at."""

import fcntl
import hashlib
import json
import os
import shutil
from collections.abc import Mapping
from pathlib import Path

import pytest

from coldbench.grading.build import build
from coldbench.grading.course import find_course
from coldbench.grading.driver import Outcome, grade_lab
from coldbench.grading.gate import reference_answers, submission_bytes
from coldbench.grading.gradebook import open_gradebook, quiet
from coldbench.grading.lab import open_lab
from coldbench.grading.record import Record, from_json
from coldbench.grading.sandbox import LIMITS_ONLY, choose_level

SMALL_COURSE = Path(__file__).parent / "small_course"
LAB = "small-lab"
FULL = {"check-evaporating": 3.0, "check-superheat": 2.0, "check-words": 4.0}
NOTHING = dict.fromkeys(FULL, 0.0)
BLANKS = {
    "answer-evaporating": "pass", "answer-superheat": "pass", "answer-words": "pass",
}


class Desk:
    """A course's grading desk: hand submissions in, grade them, look at what came of it."""

    full, nothing, lab_name = FULL, NOTHING, LAB

    def __init__(self, root: Path):
        self.root = root
        self.course = find_course(root)
        self.lab = open_lab(self.course, LAB)
        self.reference = reference_answers(self.lab)

    def folder(self, learner: str) -> Path:
        """Where a learner's submission lies."""
        return self.course.submitted / learner / LAB

    def notebook(self, changes: Mapping[str, str]) -> dict:
        """The released notebook with some cells' sources changed, as a tree of plain data."""
        return json.loads(submission_bytes(self.lab, dict(changes)))

    def submit(self, learner: str, changes: Mapping[str, str] | None = None,
               data: bytes | dict | None = None, files: Mapping[str, str | bytes] = {}) -> None:
        """Hand in [changes: cells that differ from the reference answers; data: the file]."""
        if data is None:
            data = submission_bytes(self.lab, {**self.reference, **(changes or {})})
        elif isinstance(data, dict):
            data = json.dumps(data).encode()
        folder = self.folder(learner)
        folder.mkdir(parents=True, exist_ok=True)
        (folder / f"{LAB}.ipynb").write_bytes(data)
        for name, content in files.items():
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            (folder / name).write_bytes(content if isinstance(content, bytes)
                                        else content.encode())

    def submit_blank(self, learner: str, changes: Mapping[str, str] | None = None,
                     files: Mapping[str, str | bytes] = {}) -> None:
        """Hand in a notebook that answers nothing but holds some changed cells."""
        self.submit(learner, {**BLANKS, **(changes or {})}, files=files)

    def grade(self, level: str, **options) -> Outcome:
        """Grade what was handed in."""
        return grade_lab(self.course, LAB, level, **options)

    def record(self, learner: str) -> Record:
        """A learner's record as it lies on the disk."""
        path = self.course.records / LAB / f"{learner}.json"
        return from_json(path.read_text("utf-8"))

    def scores(self, learner: str) -> dict[str, float | None]:
        """Points of a learner's check cells [grade_id → points]."""
        return {c.grade_id: c.score for c in self.record(learner).cells if c.kind == "checked"}

    def book(self, learner: str) -> dict[str, tuple]:
        """What the gradebook holds [grade_id → (automatic, by hand, waits for a hand)]."""
        with quiet(), open_gradebook(self.course) as book:
            notebook = book.find_submission_notebook(LAB, LAB, learner)
            return {g.name: (g.auto_score, g.manual_score, g.needs_manual_grade)
                    for g in notebook.grades}

    def graded_notebook(self, learner: str) -> dict:
        """The notebook grading left, as plain data."""
        path = self.course.desk / "autograded" / learner / LAB / f"{LAB}.ipynb"
        return json.loads(path.read_text("utf-8"))

    def outputs(self, learner: str) -> str:
        """Everything the graded notebook shows below its cells, as one text."""
        cells = self.graded_notebook(learner)["cells"]
        return json.dumps([cell.get("outputs", []) for cell in cells], ensure_ascii=False)

    def words(self, learner: str) -> str:
        """Every sentence of a record: repairs, notices, how cells ended, reasons."""
        record = self.record(learner)
        reasons = [mark.reason for cell in record.cells for mark in cell.marks]
        troubles = [cell.trouble for cell in record.cells]
        return "\n".join([*record.repairs, *record.notices, *record.run.values(), *reasons,
                          *troubles])


def checksums(*folders: Path) -> dict[str, str]:
    """Checksum of every file below some folders."""
    return {str(path): hashlib.sha256(path.read_bytes()).hexdigest()
            for folder in folders for path in sorted(folder.rglob("*")) if path.is_file()}


@pytest.fixture(scope="session")
def level() -> str:
    """The best sandbox level of this machine."""
    return choose_level(allow_none=True)


@pytest.fixture(scope="session")
def built_course(tmp_path_factory: pytest.TempPathFactory, level: str) -> Path:
    """The small course, built once for all processes; take a copy of it to work in."""
    folder = tmp_path_factory.getbasetemp()
    if "PYTEST_XDIST_WORKER" in os.environ:
        folder = folder.parent  # the one that the processes of a run have in common
    root, built = folder / "built" / "course", folder / "built" / "done"
    with open(folder / "built.lock", "w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not built.exists():
            shutil.rmtree(root, ignore_errors=True)
            shutil.copytree(SMALL_COURSE, root)
            build(find_course(root), [], level, say=lambda line: None)
            built.touch()
    return root


@pytest.fixture
def desk(built_course: Path, tmp_path: Path) -> Desk:
    """A desk of a test's own."""
    return Desk(shutil.copytree(built_course, tmp_path / "course"))


@pytest.fixture(scope="module")
def new_desk(built_course: Path, tmp_path_factory: pytest.TempPathFactory):
    """Makes desks for a whole module."""
    return lambda: Desk(shutil.copytree(built_course, tmp_path_factory.mktemp("desk") / "course"))


@pytest.fixture(scope="module", params=["sandbox", LIMITS_ONLY])
def each_level(request: pytest.FixtureRequest) -> str:
    """Each level in turn: scoring must not depend on the sandbox."""
    if request.param == LIMITS_ONLY:
        return LIMITS_ONLY
    request.getfixturevalue("needs_sandbox")
    return choose_level()


@pytest.fixture(scope="session")
def sums():
    """Checksums of every file below some folders."""
    return checksums
