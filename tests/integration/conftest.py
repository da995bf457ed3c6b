"""What tests of grading share: a small course, built once, and a desk to hand work in at."""

import fcntl
import hashlib
import json
import os
import shutil
import subprocess
import tempfile
from collections.abc import Mapping
from pathlib import Path
from urllib.parse import quote

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


class Cluster:
    """A PostgreSQL server of the tests' own: a socket in its folder, no network, one password."""

    user, password = "grader", "blue%bench"

    def __init__(self, programs: str):
        # A socket's path may have about 100 characters, so not below pytest's long folder.
        self.folder = Path(tempfile.mkdtemp(prefix="cb-pg-", dir="/tmp"))
        self._programs, self._made = Path(programs), 0

    def start(self) -> None:
        """Make the cluster and start it; a server refuses to run as root."""
        secret = self.folder / "secret"
        secret.write_text(self.password)
        if os.geteuid() == 0:
            shutil.chown(self.folder, "postgres", "postgres")
            shutil.chown(secret, "postgres", "postgres")
        self.run("initdb", "-D", self.data, "-U", self.user, "--pwfile", str(secret),
                 "-A", "scram-sha-256", "-E", "UTF8", "--locale=C.UTF-8", "--no-sync")
        options = f"-c listen_addresses= -k {self.folder} -c fsync=off -c shared_buffers=16MB"
        self.run("pg_ctl", "-D", self.data, "-l", str(self.folder / "log"), "-o", options,
                 "-w", "start")

    @property
    def data(self) -> str:
        """The cluster's data folder."""
        return str(self.folder / "data")

    def run(self, program: str, *words: str) -> None:
        """Run one of the server's programs as a user who is not root."""
        other = ["runuser", "-u", "postgres", "--"] if os.geteuid() == 0 else []
        done = subprocess.run([*other, str(self._programs / program), *words], cwd="/",
                              stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL,
                              stderr=subprocess.PIPE, text=True, timeout=120)
        assert done.returncode == 0, done.stderr

    def address(self, database: str, password: str | None = None) -> str:
        """A database's address with the password in it."""
        secret = quote(self.password if password is None else password)
        return f"postgresql://{self.user}:{secret}@/{database}?host={self.folder}"

    def new_database(self, more: str = "") -> str:
        """Make an empty database [more: words of SQL about it]; returns its address."""
        import psycopg

        self._made += 1
        name = f"book{self._made}"
        with psycopg.connect(self.address("postgres"), autocommit=True) as connection:
            connection.execute(f"CREATE DATABASE {name} {more}")
        return self.address(name)

    def stop(self) -> None:
        """Stop the server and remove all of it."""
        self.run("pg_ctl", "-D", self.data, "-m", "immediate", "stop")
        shutil.rmtree(self.folder)


@pytest.fixture(scope="session")
def cluster(needs_postgresql: str):
    """A running PostgreSQL server, the same for all tests."""
    server = Cluster(needs_postgresql)
    server.start()
    yield server
    server.stop()
