"""Who grades, and how: Dask on loopback, selection of work, stopping and going on, doctor."""

import json
import os
import signal
import subprocess
import sys
import time
from concurrent.futures import Future
from pathlib import Path

import pytest

from coldbench.errors import InputError
from coldbench.grading.driver import Wish, _stream
from coldbench.grading.job import Job
from coldbench.grading.parcel import pack_lab
from coldbench.grading.sandbox import LIMITS_ONLY

LABS = Path(__file__).resolve().parents[2] / "labs"
COLDBENCH = [sys.executable, "-c", "from coldbench.cli import main; main()"]
# A scheduler and two worker processes that listen on loopback only.
CLUSTER = """
import sys
from distributed import LocalCluster
if __name__ == "__main__":
    with LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None,
                      host="127.0.0.1") as cluster:
        pids = [worker.pid for worker in cluster.workers.values()]
        print(cluster.scheduler_address, *pids, flush=True)
        sys.stdin.read()
"""


def environment() -> dict[str, str]:
    """Where a command of the kit runs."""
    return {**os.environ, "PYTHONPATH": str(LABS)}


def coldbench(*words: str, **more: str) -> subprocess.CompletedProcess[str]:
    """Run the command line."""
    return subprocess.run([*COLDBENCH, *words], env=environment() | more, capture_output=True,
                          text=True, timeout=180, check=False)


@pytest.fixture(scope="module")
def address(tmp_path_factory, needs_sandbox):
    """Address of a Dask scheduler on loopback with two worker processes."""
    script = tmp_path_factory.mktemp("dask") / "cluster.py"
    script.write_text(CLUSTER)
    process = subprocess.Popen([sys.executable, str(script)], stdin=subprocess.PIPE,
                               stdout=subprocess.PIPE, text=True, cwd=script.parent,
                               env=environment())
    yield process.stdout.readline().split()[0]
    process.communicate("", timeout=60)


@pytest.fixture(scope="module")
def class_(new_desk):
    """A class of seven with right, wrong, missing and deadly work."""
    desk = new_desk()
    for number in range(4):
        desk.submit(f"ml-{number:02d}")
    desk.submit("slip", {"answer-superheat": "sheet.answer('superheat', 99, 'K')"})
    desk.submit("dead", {"answer-superheat": "import os; os._exit(3)"})
    desk.submit("damaged", data=b'{"cells": [')
    return desk


def test_a_dask_cluster_gives_the_same_marks(class_, address):
    names = [folder.name for folder in class_.course.submitted.iterdir()]
    found = coldbench("grade", "--course", str(class_.root), "--scheduler", address)
    assert "7 graded, 0 unchanged" in found.stdout, found.stdout + found.stderr
    there = {name: (class_.scores(name), class_.record(name).run) for name in names}
    outputs = {name: class_.outputs(name) for name in names}
    again = coldbench("grade", "--course", str(class_.root), "--workers", "2")
    assert "0 graded, 7 unchanged" in again.stdout, again.stdout + again.stderr
    class_.grade("bubblewrap", workers=2, force=True)
    assert {name: (class_.scores(name), class_.record(name).run) for name in names} == there
    assert {name: class_.outputs(name) for name in names} == outputs
    assert there["dead"][0]["check-evaporating"] == 3.0


def test_a_cluster_is_started_and_ended(class_, tmp_path):
    # Stands in for the package of a batch system: its workers come only when asked for.
    (tmp_path / "dask_jobqueue.py").write_text("""
from distributed import LocalCluster
class SLURMCluster(LocalCluster):
    def __init__(self):
        super().__init__(n_workers=0, threads_per_worker=1, dashboard_address=None,
                         host="127.0.0.1")
""")
    found = coldbench("grade", "--course", str(class_.root), "--cluster", "slurm", "--workers",
                      "1", "--only", "ml-02", "--force",
                      PYTHONPATH=f"{LABS}{os.pathsep}{tmp_path}")
    assert "1 graded, 0 unchanged" in found.stdout, found.stdout + found.stderr
    assert class_.scores("ml-02") == class_.full
    (tmp_path / "dask_jobqueue.py").write_text("def SLURMCluster(): raise ValueError('no cores')")
    found = coldbench("grade", "--course", str(class_.root), "--cluster", "slurm",
                      PYTHONPATH=f"{LABS}{os.pathsep}{tmp_path}")
    assert found.returncode == 2 and "could not start a cluster (no cores)" in found.stderr


class FalseClient:
    """A cluster whose workers answer with what they like: `answer(true answer)`."""

    def __init__(self, answer):
        self.answer = answer

    def get_executor(self, **ignored):
        return self

    def scatter(self, data, **ignored):
        return data

    def nthreads(self):
        return {"one": 1}

    def submit(self, work, lab, job, key):
        return done(self.answer(work(lab, job)))

    def shutdown(self, wait):
        """Nothing runs."""


def changed(text: str, **fields) -> str:
    content = json.loads(text)
    return json.dumps({**content, "record": json.dumps({**json.loads(content["record"]), **fields})})


def test_what_a_worker_makes_up_is_not_written(new_desk):
    desk, lies = new_desk(), {"junk": lambda text: "x" * 1000, "nothing": lambda text: None}
    desk.submit("ml-01")
    desk.submit("ml-02")
    lies |= {name: lambda text, name=name, value=value: changed(text, **{name: value})
             for name, value in (("learner", "ml-02"), ("lab", "../x"), ("key", "0" * 64),
                                 ("cells", []))}
    lies["points"] = lambda text: text.replace('\\"score\\": 3.0', '\\"score\\": 300.0')
    lies["no number"] = lambda text: text.replace('\\"score\\": 3.0', '\\"score\\": NaN')
    only = Wish(only=("ml-01",), cold=True)
    seen = []  # the true answer is worked out once
    for name, lie in lies.items():
        def answer(text, lie=lie):
            seen.append(text)
            return lie(text)
        client = FalseClient(answer)
        if seen:
            client.submit = lambda work, lab, job, key, a=answer: done(a(seen[0]))
        with pytest.raises(InputError, match="gave back something else|could not grade"):
            desk.grade(LIMITS_ONLY, client=client, wish=only)
        assert not list(desk.course.records.rglob("*.json")), name
    desk.grade(LIMITS_ONLY, client=FalseClient(lambda text: seen[0]), wish=only)
    assert desk.scores("ml-01") == desk.full and desk.book("ml-01")["check-words"][0] == 4.0


def done(result) -> Future:
    """A future that is done."""
    future = Future()
    future.set_result(result)
    return future


def test_a_worker_gets_one_lab_and_nothing_of_the_class(class_):
    from coldbench.grading.limits import Limits

    content = json.loads(pack_lab(class_.lab, "bubblewrap", Limits()))
    assert {Path(name).name for name in content["files"]} <= {
        path.name for path in class_.lab.folder.rglob("*")}
    assert "gradebook" not in json.dumps({**content, "files": ""})


def test_what_is_missing_for_a_cluster_is_said(class_, capsys):
    from coldbench.cli import main

    wrong = {
        ("--scheduler", "tcp://127.0.0.1:9"): "no Dask scheduler answers at tcp://127.0.0.1:9",
        ("--cluster", "slurm"): "pip install dask-jobqueue",
        ("--cluster", "toaster"): "accepted are slurm, kubernetes",
        ("--cluster", "slurm", "--scheduler", "tcp://h:1"): "give one of them",
        ("--since", "yesterday"): "is not a time",
        ("--only", "nobody"): "no submission of 'nobody'",
        ("--all", "small-lab"): "--all means all labs",
    }
    for words, sentence in wrong.items():
        with pytest.raises(SystemExit) as stopped:
            main(["grade", "--course", str(class_.root), *words])
        assert stopped.value.code == 2, words
        assert sentence in capsys.readouterr().err, words


def test_only_some_work_is_graded(class_, level):
    class_.grade(level)
    count = {}
    for learner, stamp in (("ml-00", "2026-12-01 10:00:00 UTC"), ("ml-01", "2026-12-03 10:00 UTC")):
        class_.submit(learner, {"answer-superheat": "pass"}, files={"timestamp.txt": stamp})
    for words in (["--only", "ml-00", "--force", "--all"], ["--since", "2026-12-02T00:00:00+00:00"]):
        found = coldbench("grade", "--course", str(class_.root), *words)
        count[words[0]] = found.stdout.split(";")[0]
        assert class_.scores("ml-00")["check-superheat"] == 0.0, found.stderr
        assert "1 done, 0 failed, 0 left" in found.stderr  # those left out do not wait
    assert count == {"--only": "small-lab: 1 graded, 0 unchanged",
                     "--since": "small-lab: 1 graded, 0 unchanged"}
    assert class_.scores("ml-01")["check-superheat"] == 0.0


class SlowGraders:
    """Never done by themselves: counts how many jobs are begun ahead."""

    width, most = 3, 0

    def __init__(self):
        self.waiting: list[Future] = []

    def submit(self, job):
        """Begin a job; the oldest is done once too many wait."""
        future: Future = Future()
        self.waiting.append(future)
        self.most = max(self.most, len(self.waiting))
        if len(self.waiting) >= 2 * self.width:
            self.waiting.pop(0).set_result(job)
        return future

    def result(self, future):
        """What was submitted."""
        return future.result()


def test_a_large_class_is_not_read_ahead():
    graders, read = SlowGraders(), []

    def jobs():
        for number in range(200):
            read.append(number)
            yield Job(f"ml-{number}", b"")

    seen = 0
    for done in _stream(graders, jobs()):
        seen += done is not None
        assert len(read) <= seen + 2 * graders.width
        if seen > 190:
            break
    assert graders.most <= 2 * graders.width


def parents_of_graders() -> list[int]:
    """Process ids that the control groups of runs are named after: who made them."""
    return [int(folder.name.split("-")[1]) for folder in
            Path("/sys/fs/cgroup").glob("**/coldbench-[0-9]*")]


@pytest.mark.needs_sandbox
@pytest.mark.parametrize("way", [[], ["--cold"]], ids=["warm", "cold"])
def test_an_interrupt_stops_cleanly_and_the_rest_is_done_later(desk, way):
    for number in range(6):
        desk.submit(f"ml-{number:02d}")
    desk.submit("ml-01", {"answer-superheat": "import time; time.sleep(60)"})
    (desk.course.desk / "course.toml").write_text(
        (desk.course.desk / "course.toml").read_text().replace("cell_seconds = 3",
                                                               "cell_seconds = 30"))
    process = subprocess.Popen(
        [*COLDBENCH, "grade", "--course", str(desk.root), "--workers", "1", *way],
        env=environment(), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        start_new_session=True)
    deadline = time.monotonic() + 90
    while not (desk.course.records / "small-lab" / "ml-00.json").exists():
        assert time.monotonic() < deadline and process.poll() is None, process.stderr.read()
        time.sleep(0.1)
    time.sleep(1.5)  # now ml-01 sleeps
    begun = time.monotonic()
    os.killpg(process.pid, signal.SIGINT)  # as a terminal does: to all that share its group
    _, said = process.communicate(timeout=60)
    assert time.monotonic() - begun < 25  # not the 30 s that the cell may take
    assert process.returncode == 130, said
    assert "the same command goes on from there" in said and "Traceback" not in said
    assert not [pid for pid in parents_of_graders() if pid == process.pid]
    (desk.folder("ml-01") / "small-lab.ipynb").write_bytes(
        (desk.folder("ml-00") / "small-lab.ipynb").read_bytes())
    rest = coldbench("grade", "--course", str(desk.root), "--workers", "1", *way)
    assert "5 graded, 1 unchanged" in rest.stdout, rest.stdout + rest.stderr
    assert desk.scores("ml-05") == desk.full


@pytest.mark.needs_sandbox
def test_doctor_tries_the_walls(desk):
    found = coldbench("doctor", "--course", str(desk.root), COLUMNS="1000")
    assert found.returncode == 0, found.stdout + found.stderr
    lines = {line.split("  ")[0]: line for line in found.stdout.splitlines()}
    for way in ("cold start", "warm workers"):
        for wall in ("the network is off", "other processes are out of sight", "seccomp",
                     "memory of a process is limited", "none can be gained"):
            assert wall in lines[way], lines[way]
        assert "NOT in force" not in lines[way]
    for subject in ("machine", "sandbox", "control groups", "versions", "nbgrader", "gradebook"):
        assert subject in lines
    assert "Small course for tests" in found.stdout


def test_doctor_says_what_is_missing(monkeypatch, desk):
    from coldbench.grading import doctor

    monkeypatch.setattr(doctor, "missing_for_bubblewrap", lambda: "bubblewrap needs Linux")
    monkeypatch.setattr(doctor, "_version", lambda name: "")
    findings = list(doctor.examine(None))
    said = {finding.subject: finding for finding in findings}
    assert "refuses to run here unless told --no-sandbox" in said["sandbox"].sentence
    assert "not installed" in said["distributed"].sentence
    assert "no course here" in said["course"].sentence
    assert not doctor.can_grade(findings)
