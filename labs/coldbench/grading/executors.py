"""Who grades: workers on this machine, or a Dask cluster. Both take a job and give a future.

The interface is that of `concurrent.futures`: `submit` returns a `Future`. A submission's own
troubles never become an exception of the future; only what is wrong with a machine does.
"""

import contextlib
import os
import queue
import time
from collections.abc import Iterator
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from typing import Any, Protocol

from coldbench.errors import InputError
from coldbench.grading.feedback_safe import one_line
from coldbench.grading.job import Graded, Job, job_key
from coldbench.grading.lab import Lab, grade_id_of
from coldbench.grading.lab_worker import LabWorker
from coldbench.grading.limits import Limits
from coldbench.grading.parcel import grade_parcel, pack_job, pack_lab, unpack_graded
from coldbench.grading.record import Record

TRIES_AFTER_LOSS = 2
SECONDS_BETWEEN_COUNTS = 5.0
SECONDS_FOR_WORKERS = 900.0  # a batch queue may let the first one wait
CLUSTERS = {
    "slurm": ("dask_jobqueue", "SLURMCluster", "dask-jobqueue"),
    "kubernetes": ("dask_kubernetes.operator", "KubeCluster", "dask-kubernetes"),
}


class Graders(Protocol):
    """Whoever grades a lab's jobs."""

    width: int

    def warm_up(self) -> None:
        """Get ready ahead of the first job."""

    def submit(self, job: Job) -> Future:
        """Begin a job."""

    def result(self, future: Future) -> Graded:
        """The result of a future that is done."""


def cores() -> int:
    """Processors this program may use."""
    try:
        return max(1, len(os.sched_getaffinity(0)))
    except AttributeError:  # not Linux
        return os.cpu_count() or 1


class LocalGraders:
    """Workers on this machine; each thread only waits for its own processes."""

    def __init__(self, lab: Lab, level: str, limits: Limits, workers: int, cold: bool = False):
        lab.released, lab.fingerprint  # noqa: B018 - worked out once, before threads share them
        self.width = workers
        self._stopped = False
        self._workers = [LabWorker(lab, level, limits, cold) for _ in range(workers)]
        self._free: queue.SimpleQueue[LabWorker] = queue.SimpleQueue()
        for worker in self._workers:
            self._free.put(worker)
        self._executor: Executor = ThreadPoolExecutor(workers)

    def submit(self, job: Job) -> Future:
        """Begin a job as soon as a worker is free."""
        return self._executor.submit(self._grade, job)

    def warm_up(self) -> None:
        """Let the workers start while other things are done."""
        for _ in self._workers:
            self._executor.submit(self._warm_one)

    def _warm_one(self) -> None:
        worker = self._free.get()
        try:
            worker.warm_up()
        finally:
            self._free.put(worker)

    def _grade(self, job: Job) -> Graded | None:
        worker = self._free.get()
        try:
            return None if self._stopped else worker.grade(job)
        finally:
            self._free.put(worker)

    def result(self, future: Future) -> Graded:
        """The result of a future that is done."""
        return future.result()

    def close(self) -> None:
        """Stop; what is being graded is dropped."""
        self._stopped = True
        for worker in self._workers:
            worker.halt.set()
        self._executor.shutdown(wait=True, cancel_futures=True)
        for worker in self._workers:
            worker.close()


_GOES_ON = "what is graded so far is kept, the same command goes on from there"


def answers(record: Record, lab: Lab, learner: str, key: str) -> bool:
    """Say whether a record is of the submission that was asked about, with marks it can have.

    key [of the job; a record without one was not graded].
    """
    points = {grade_id_of(cell): float(cell.metadata.nbgrader.points)
              for cell in lab.cells("check", "written")}
    return ((record.lab, record.learner) == (lab.name, learner) and record.key in ("", key)
            and {cell.grade_id: cell.points for cell in record.cells} == points
            and len(record.cells) == len(points)
            and all(0 <= (cell.score or 0) <= cell.points for cell in record.cells))


class DaskGraders:
    """Workers of a Dask cluster; they get bytes and return JSON."""

    def __init__(self, client: Any, lab: Lab, level: str, limits: Limits, cold: bool = False):
        self._client, self._lab, self._level, self._limits = client, lab, level, limits
        self._asked: dict[Future, tuple[str, str]] = {}
        self._executor: Executor = client.get_executor(retries=TRIES_AFTER_LOSS, pure=True)
        self._lab_there = client.scatter(pack_lab(lab, level, limits, cold), broadcast=True,
                                         hash=True)
        self._width, self._counted_at = 0, float("-inf")

    @property
    def width(self) -> int:
        """Tasks the cluster can do at a time; workers may come and go."""
        if time.monotonic() - self._counted_at > SECONDS_BETWEEN_COUNTS:
            self._width = max(1, sum(self._client.nthreads().values()))
            self._counted_at = time.monotonic()
        return self._width

    def warm_up(self) -> None:
        """A cluster's workers start with their first task."""

    def submit(self, job: Job) -> Future:
        """Begin a job; the same job has the same key, so it is done once."""
        key = job_key(self._lab, job, self._limits, self._level)
        future = self._executor.submit(grade_parcel, self._lab_there, pack_job(job),
                                       key=f"{self._lab.name}-{job.learner}-{key}")
        self._asked[future] = job.learner, key
        return future

    def result(self, future: Future) -> Graded:
        """The result of a future that is done; raises InputError when the cluster lost it."""
        learner, key = self._asked.pop(future)
        try:
            graded = unpack_graded(future.result())
        except InputError:
            raise
        except Exception as error:
            raise InputError(f"the cluster could not grade a submission "
                             f"({type(error).__name__}: {error}); {_GOES_ON}") from None
        if not answers(graded.record, self._lab, learner, key):
            raise InputError(f"a worker of the cluster gave back something else than the marks "
                             f"of {one_line(learner, 80)}; {_GOES_ON}")
        return graded

    def close(self) -> None:
        """Drop what has not been begun."""
        self._executor.shutdown(wait=False)


@contextlib.contextmanager
def dask_client(scheduler: str = "", cluster: str = "", workers: int = 2) -> Iterator[Any]:
    """Connect to a Dask scheduler, or start a cluster of a kind [slurm, kubernetes].

    Raises InputError saying what is missing or not reached.
    """
    try:
        from distributed import Client
    except ImportError:
        raise InputError("grading on a cluster needs Dask: pip install 'coldbench[cluster]'"
                         ) from None
    with contextlib.ExitStack() as stack:
        target = scheduler or stack.enter_context(_started_cluster(cluster, workers))
        try:
            client = stack.enter_context(Client(target, timeout=20, set_as_default=False))
        except (OSError, ValueError, TimeoutError) as error:
            raise InputError(f"no Dask scheduler answers at {target}: {error}; an address looks "
                             "like tcp://host:8786") from None
        if scheduler and not client.nthreads():
            raise InputError(f"the scheduler at {scheduler} has no workers; start some with "
                             f"`dask worker {scheduler} --nthreads 1`")
        try:
            client.wait_for_workers(1, timeout=SECONDS_FOR_WORKERS)
        except TimeoutError:
            raise InputError(f"no worker of the {cluster} cluster came within "
                             f"{SECONDS_FOR_WORKERS / 60:.0f} minutes; look at its queue") from None
        yield client


def _started_cluster(kind: str, workers: int) -> Any:
    """Start a cluster by Dask's own package for its kind, as that package's settings say."""
    import importlib

    if kind not in CLUSTERS:
        raise InputError(f"no kind of cluster {kind!r}; accepted are {', '.join(CLUSTERS)}")
    module, name, package = CLUSTERS[kind]
    try:
        make = getattr(importlib.import_module(module), name)
    except ImportError:
        raise InputError(f"--cluster {kind} needs Dask's package for it: pip install {package}"
                         ) from None
    try:
        cluster = make()
        cluster.scale(workers)
    except Exception as error:  # settings, rights, programs: each package has errors of its own
        raise InputError(f"{package} could not start a cluster ({one_line(error)}); its settings "
                         "are explained in labs/guides/grading-on-a-cluster.md") from None
    return cluster
