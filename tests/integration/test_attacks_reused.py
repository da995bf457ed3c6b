"""Submissions that poison what is reused; honest ones graded after them come out as if alone.

One worker grades poisoners and victims in turn, each in a fresh child of one pre-warmed parent.
"""

import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pytest

from coldbench.grading.limits import Limits
from coldbench.grading.run import run_cells
from coldbench.grading.sandbox import BUBBLEWRAP
from coldbench.grading.warm import ParentLost, WarmParent

pytestmark = pytest.mark.needs_sandbox

TRY = """
import ctypes, os, signal, subprocess, sys
libc = ctypes.CDLL(None, use_errno=True)
def attempt(act, *words):
    try:
        return act(*words)
    except BaseException as error:
        return repr(error)
"""
POISONS = {
    "modules": """
import builtins, coldbench, coldbench.worksheet, coldbench.worksheet.channel as channel, json, sys
import coldbench.quantity, coldbench.refrigerant
coldbench.worksheet.Worksheet.answer = lambda *a, **k: "✓"
coldbench.refrigerant.fluid = coldbench.quantity.to_si = lambda *a, **k: 0
channel.send = lambda record: None
json.dumps = lambda *a, **k: '{"record": 1}'
sys.modules["numpy"] = sys.modules["coldbench.worksheet.sheet"] = None
builtins.round = builtins.abs = builtins.print = lambda *a, **k: 0
sys.meta_path.clear(); sys.path.insert(0, "/tmp"); sys.setrecursionlimit(60)
""",
    "styles": """
import matplotlib, matplotlib.pyplot as plt, warnings, locale, gc, random, decimal
matplotlib.rcParams.update({"font.size": 40, "axes.facecolor": "red", "savefig.dpi": 20,
                            "figure.figsize": (1, 1), "text.usetex": False})
matplotlib.use("svg"); plt.figure(7); plt.plot([1, 2]); plt.xkcd()
warnings.simplefilter("error"); gc.disable(); random.seed(0)
import numpy; numpy.seterr(all="raise"); numpy.random.seed(0)
numpy.set_printoptions(precision=1); decimal.getcontext().prec = 2
from IPython import get_ipython
get_ipython().set_custom_exc((Exception,), lambda *a, **k: None)
get_ipython().input_transformers_cleanup.append(lambda lines: ["1\\n"])
get_ipython().display_formatter.format = lambda *a, **k: ({}, {})
os.environ["COLDBENCH_LAB"] = "/tmp"; os.environ["MPLBACKEND"] = "svg"
""",
    "files": """
import pathlib
for name in ("case.py", "lab.toml", "sitecustomize.py", "numpy.py", "matplotlibrc", "left.txt",
             "mpl/matplotlibrc", ".ipython/profile_default/startup/0.py",
             "ipython/profile_default/startup/0.py", ".config/matplotlib/matplotlibrc",
             "../sitecustomize.py", "../../dev/shm/left"):
    path = pathlib.Path("/lab" if "/" not in name else "/tmp/home", name)
    attempt(path.parent.mkdir, 0o777, True, True)
    attempt(path.write_text, "font.size: 40\\nraise SystemExit")
for base in (p for p in sys.path if "packages" in p or "labs" in p):
    attempt(pathlib.Path(base, "sitecustomize.py").write_text, "raise SystemExit")
""",
    "signals": """
for number in (9, 15, 19, 2, 10):
    for target in (1, os.getppid(), -1, 0, 3, 4, *range(5, 60)):
        if target not in (0, -1):
            attempt(os.kill, target, number)
attempt(os.kill, -1, 9)
""",
    "tracing": """
for target in (1, os.getppid(), *range(3, 20)):
    print(libc.ptrace(16, target, 0, 0), attempt(open, f"/proc/{target}/mem", "r+b"))
print(libc.prctl(38, 0, 0, 0, 0), libc.unshare(0x10000000), libc.unshare(0x20000),
      libc.mount(b"none", b"/tmp", b"tmpfs", 0, b""), libc.umount2(b"/proc", 2),
      libc.setns(0, 0), libc.syscall(165, b"none", b"/lab", b"tmpfs", 0, 0))
for name in ("kernel/core_pattern", "kernel/modprobe", "kernel/hostname", "vm/drop_caches"):
    print(attempt(open, f"/proc/sys/{name}", "w"))
print(attempt(open, "/proc/sysrq-trigger", "w"), attempt(open, "/proc/1/oom_score_adj", "w"))
""",
    "descriptors": """
import array, socket
for number in range(3, 256):
    for data in (b'{"ended": true}\\n', b'{"ready": true}', b'{"unfit": "x"}\\n', b'{"stop": 1}'):
        attempt(os.write, number, data)
    attempt(lambda: socket.socket(fileno=os.dup(number)).send(b'{"ended": true}'))
    attempt(os.lseek, number, 0, 0)
    attempt(os.ftruncate, number, 0)
attempt(os.closerange, 3, 256)
""",
    "shared memory": """
made = libc.shmget(0x1234, 4096, 0o1666)
print(made, libc.semget(0x1234, 1, 0o1666), libc.msgget(0x1234, 0o1666))
attempt(open("/dev/shm/left", "w").write, "x")
import multiprocessing.shared_memory as shared
attempt(lambda: shared.SharedMemory("left2", True, 1000))
import socket
left = socket.socket(socket.AF_UNIX); left.bind("\\0coldbench-left"); left.listen()
port = socket.socket(); port.bind(("127.0.0.1", 45454)); port.listen()
""",
    "leftovers": """
import threading, time
threading.Thread(target=lambda: time.sleep(600)).start()
for _ in range(5):
    if os.fork() == 0:
        os.setsid()
        if os.fork() == 0:
            attempt(signal.pthread_sigmask, signal.SIG_BLOCK, range(1, 60))
            while True:
                time.sleep(0.05)
                attempt(open, "/tmp/still-here", "w")
        os._exit(0)
""",
}
BOMBS = {  # these never come to their end by themselves
    "fork bomb": ("import os\nwhile True:\n    try: os.fork()\n    except OSError: pass", ""),
    "memory bomb": ("import os\nfor _ in range(3): os.fork()\nkept = []\n"
                    "while True: kept.append(b'x' * 100_000_000)", ""),
    "disk filler": ("n = 0\nwhile True:\n    n += 1\n    for folder in ('/tmp', '/lab', '/dev/shm'):\n"
                    "        try:\n            with open(f'{folder}/{n}', 'wb') as f:\n"
                    "                f.write(bytes(10_000_000))\n"
                    "        except OSError: pass", "stopped after 3 s"),
    "many files": ("n = 0\nwhile True:\n    n += 1\n    open(f'/tmp/{n}', 'w').close()",
                   "No space left"),
    "one large file": ("with open('/lab/x', 'wb') as f:\n    while True: f.write(bytes(1_000_000))",
                       "File too large"),
    "endless output": ("import os\nwhile True: print('x' * 1_000_000)", "stopped"),
    "endless events": ("import os, stat\nfor n in range(3, 64):\n    try:\n"
                       "        while stat.S_ISFIFO(os.fstat(n).st_mode): os.write(n, b'x' * 65536)\n"
                       "    except OSError: pass", "it wrote too much"),
}
VICTIM = {"answer-words": """
import ctypes, decimal, gc, os, socket, sys, threading, warnings
import matplotlib, matplotlib.pyplot as plt, numpy
libc = ctypes.CDLL(None)
print(libc.shmget(0x1234, 4096, 0o666), libc.semget(0x1234, 1, 0o666), libc.msgget(0x1234, 0o666))
print(sorted(os.listdir("/tmp")), sorted(os.listdir("/lab")), sorted(os.listdir("/dev/shm")),
      sorted(os.listdir(os.path.expanduser("~"))), [n for n in os.listdir("/proc") if n.isdigit()])
print(sorted(os.environ.items()), sys.path, sys.getrecursionlimit(), threading.active_count())
print(warnings.filters[:3], gc.isenabled(), decimal.getcontext().prec, numpy.geterr(),
      numpy.get_printoptions()["precision"], matplotlib.get_backend(), plt.get_fignums())
for name in ("coldbench-left",):
    try:
        socket.socket(socket.AF_UNIX).connect("\\0" + name); print("REACHED")
    except OSError as error:
        print(error)
with socket.socket() as port:
    port.bind(("127.0.0.1", 45454))
print(socket.gethostname(), os.getuid(), os.getpid(), os.getcwd())
plt.plot([0, 1, 2], [1, 3, 2], label="a"); plt.legend(); plt.title("$T$"); plt.show()
"""}


@pytest.fixture(scope="module")
def alone(new_desk):
    """A victim graded alone, in each way [way → (record without its time, cells)]."""
    found = {}
    for way, options in (("warm", {}), ("cold", {"cold": True})):
        desk = new_desk()
        submit_victim(desk, "victim")
        for number in range(0 if options else 3):  # enough for a warm worker
            desk.submit(f"other-{number}")
        grade_once(desk, **options)
        found[way] = what_came_of(desk, "victim")
    return found


def grade_once(desk, **options):
    """Grade with one worker, warm unless told otherwise."""
    from coldbench.grading.driver import Wish

    desk.grade(BUBBLEWRAP, workers=1, wish=Wish(**options))


def submit_victim(desk, learner: str) -> None:
    """Hand in honest work that also looks around and draws."""
    desk.submit(learner, {"answer-words": VICTIM["answer-words"]
                          + desk.reference["answer-words"], "learner": 'LEARNER = "victim"'})


def what_came_of(desk, learner: str):
    """Marks, states and outputs of a submission, without what names its learner and time."""
    record = desk.record(learner)
    marks = [(cell.grade_id, cell.points, cell.trouble, [m.reason for m in cell.marks])
             for cell in record.cells]
    return (marks, record.run, record.repairs,
            [cell.get("outputs") for cell in desk.graded_notebook(learner)["cells"]])


@pytest.fixture(scope="module")
def poisoned(new_desk, tmp_path_factory):
    """Poisoners and bombs, a victim after each, all through one pre-warmed parent."""
    desk = new_desk()
    for number, (name, code) in enumerate(POISONS.items()):
        desk.submit(f"{number:02d}-a {name}", {"answer-words": TRY + code})
    for number, (name, (code, _)) in enumerate(BOMBS.items(), start=20):
        desk.submit(f"{number:02d}-a {name}", {"answer-superheat": code})
    for number in [*range(len(POISONS)), *range(20, 20 + len(BOMBS))]:
        submit_victim(desk, f"{number:02d}-b")
    temporary = tmp_path_factory.mktemp("temporary")  # other tests fill the usual folder
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(tempfile, "tempdir", str(temporary))
        grade_once(desk)
    desk.leftovers = set(os.listdir(temporary))
    return desk


@pytest.mark.parametrize("number", [*range(len(POISONS)), *range(20, 20 + len(BOMBS))])
def test_a_later_submission_is_graded_as_if_alone(poisoned, alone, number):
    learner = f"{number:02d}-b"  # whose case, and so some outputs, are her own
    _, run, repairs, outputs = what_came_of(poisoned, learner)
    assert poisoned.scores(learner) == poisoned.full
    _, alone_run, alone_repairs, alone_outputs = alone["warm"]
    assert (run, repairs) == (alone_run, alone_repairs)
    words = next(i for i, cell in enumerate(poisoned.graded_notebook(learner)["cells"])
                 if cell["metadata"].get("nbgrader", {}).get("grade_id") == "answer-words")
    assert outputs[words] == alone_outputs[words]
    assert "image/png" in json.dumps(outputs[words])


def test_cold_and_warm_come_to_the_same(alone):
    warm, cold = alone["warm"], alone["cold"]
    assert warm[0] == cold[0] and warm[1] == cold[1]
    assert warm[3] == cold[3]  # also what it saw of folders, settings and processes


@pytest.mark.parametrize("name", BOMBS)
def test_bombs_are_stopped_and_the_reason_is_said(poisoned, name):
    learner = next(n.parent.name for n in poisoned.course.submitted.glob(f"*-a {name}/small-lab"))
    assert poisoned.scores(learner)["check-evaporating"] == 3.0
    assert poisoned.scores(learner)["check-superheat"] == 0.0
    words = poisoned.words(learner) + poisoned.outputs(learner)
    assert BOMBS[name][1] in words
    assert poisoned.record(learner).run["answer-superheat"] != "ok" or name == "one large file"
    assert poisoned.record(learner).seconds < 60


def test_tracing_and_mounting_are_refused(poisoned):
    shown = "".join(text for cell in poisoned.graded_notebook("04-a tracing")["cells"]
                    for output in cell.get("outputs", []) for text in output.get("text", []))
    assert "_io." not in shown  # no file of another process, no setting of the kernel was opened
    assert shown.count("Permission denied") + shown.count("Read-only") >= 5
    assert "\n-1 -1 -1 -1 -1 -1 -1\n" in shown, shown


def test_nothing_of_a_class_is_left(poisoned):
    assert not poisoned.leftovers
    names = [path.read_bytes() for path in Path("/proc").glob("[0-9]*/cmdline") if readable(path)]
    mine = str(os.getpid()).encode()
    assert not [words for words in names if b"coldbench.grading.parent" in words
                and mine in words]
    deadline = time.monotonic() + 5
    while groups() and time.monotonic() < deadline:
        time.sleep(0.1)
    assert not groups()


def readable(path: Path) -> bool:
    """Say whether a process's file can still be read."""
    try:
        path.read_bytes()
    except OSError:
        return False
    return True


def groups() -> list[Path]:
    """Control groups that this process made and that are still there."""
    return list(Path("/sys/fs/cgroup").glob(f"**/coldbench-{os.getpid()}-*"))


SYS_ADMIN, SETFCAP = 1 << 21, 1 << 31


def rights_below(pid: int) -> set[int]:
    """Capabilities in force of the pre-warmed parents below a process."""
    import psutil

    return {int(line.split()[1], 16) for child in psutil.Process(pid).children(recursive=True)
            if "coldbench.grading.parent" in child.cmdline() and child.name() != "bwrap"
            for line in Path(f"/proc/{child.pid}/status").read_text().splitlines()
            if line.startswith("CapEff")}


CELL = {"id": "x", "grade_id": "x", "source": "import os; print(os.getpid(), open('/proc/stat')"
        ".readline()[:3]); x = 1"}


def run_in(parent: WarmParent, source: str = CELL["source"], **options):
    """Run one cell in a parent's child."""
    return run_cells([{**CELL, "source": source}], "ml-01", [], BUBBLEWRAP,
                     Limits(cell_seconds=3.0, notebook_seconds=10.0), parent=parent, **options)


def test_a_parent_is_renewed(monkeypatch):
    monkeypatch.setattr("coldbench.grading.warm.RUNS_OF_A_PARENT", 2)
    parent = WarmParent("test", [], [], Limits())
    try:
        first = []
        for _ in range(3):
            assert run_in(parent, cold_instead=False).states["x"] == "ok"
            first.append(parent._process.pid)
        assert first[0] == first[1] != first[2]
        assert rights_below(parent._process.pid) == {SYS_ADMIN | SETFCAP}  # with any user the same
        parent._process.kill()  # lost between two runs: started anew, nobody notices
        assert run_in(parent, cold_instead=False).states["x"] == "ok"
        said = run_in(parent, """
import os
for number in range(3, 64):
    try: os.write(number, b'{"unfit": "x"}\\n')
    except OSError: pass
""")
        assert said.states["x"] == "ok"  # too late to claim that the run could not begin
    finally:
        parent.close()


@pytest.fixture(scope="module")
def both_ways():
    """What cells show when run cold and warm [cells, files → outputs of each]."""
    parent = WarmParent("both", [], [], Limits())

    def run(code: str, files=()):
        cells = [{"id": "x", "source": code}]
        return [run_cells(cells, "ml-07", list(files), BUBBLEWRAP, Limits(), parent=way,
                          cold_instead=False).outputs["x"] for way in (None, parent)]

    yield run
    parent.close()


def test_no_style_or_library_beside_a_notebook_is_taken(both_ways):
    files = [("matplotlibrc", b"font.size: 40\n"), ("colorsys.py", b"raise SystemExit\n")]
    cold, warm = both_ways("import colorsys, matplotlib.pyplot as plt\nplt.plot([1, 2])\n"
                           "print(plt.rcParams['font.size'], colorsys.rgb_to_hsv(1, 1, 1))", files)
    assert cold == warm
    assert cold[0]["text"] == "10.0 (0.0, 0.0, 1)\n" and "image/png" in cold[1]["data"]


def test_a_run_cannot_use_up_the_open_files_of_the_system(both_ways):
    for outputs in both_ways("""
import os, resource
most = resource.getrlimit(resource.RLIMIT_NOFILE)[1]
try:
    resource.setrlimit(resource.RLIMIT_NOFILE, (most, most + 1))
except (ValueError, OSError):
    print("no more")
try:
    while True: os.dup(0)
except OSError as error:
    print(error.strerror, most)"""):
        assert outputs[0]["text"] == "no more\nToo many open files 1024\n"


def test_a_run_holds_no_file_of_the_grader(both_ways):
    """Only the pipe for its events, and fonts: no socket, no other's namespace, no folder."""
    for outputs in both_ways("""
import os
for name in os.listdir("/proc/self/fd"):
    try:
        target = os.readlink(f"/proc/self/fd/{name}")
    except FileNotFoundError:  # the listing itself
        continue
    if target != "/dev/null" and not target.endswith(".ttf"):
        print(target.split("[")[0])"""):
        assert outputs[0]["text"] == "pipe:\n"


def test_a_run_has_no_right(both_ways):
    """As the kernel lists them; and a warm run's walls belong to users that are not its own."""
    cold, warm = both_ways("""
import fcntl, os
for line in open("/proc/self/status"):
    if line.startswith(("CapPrm", "CapEff", "CapBnd", "CapAmb", "NoNewPrivs", "Seccomp:")):
        print(line.split()[1].strip("0"), end=",")
OWNER = 0xb701  # of a namespace: ioctl_ns(2)
try:
    fcntl.ioctl(os.open("/proc/self/ns/mnt", os.O_RDONLY), OWNER)
    print("walls of its own users")
except PermissionError:
    print("walls of others")""")
    assert cold[0]["text"].startswith(",,,,1,2,")
    assert warm[0]["text"] == ",,,,1,2,walls of others\n"


def test_a_parent_that_cannot_start_is_replaced_by_a_cold_start(monkeypatch):
    monkeypatch.setattr("coldbench.grading.warm.place_for_parent", lambda *ignored: type(
        "Place", (), {"command": [sys.executable, "-c", ""], "environment": {}}))
    parent = WarmParent("never", [], [], Limits())
    assert run_in(parent).states["x"] == "ok"
    with pytest.raises(ParentLost):
        run_in(parent, cold_instead=False)


def test_the_kernel_refuses_calls_that_no_lab_needs():
    code = """
import ctypes, os, subprocess, threading
from coldbench.grading.seccomp import refuse_calls
libc = ctypes.CDLL(None, use_errno=True)
assert refuse_calls()
for call in (lambda: libc.unshare(0x10000000), lambda: libc.ptrace(0, 0, 0, 0),
             lambda: libc.setns(0, 0), lambda: libc.syscall(321, 0, 0, 0),
             lambda: libc.syscall(56, 0x10000000 | 17, 0, 0, 0, 0)):
    assert call() == -1 and ctypes.get_errno() in (1,), ctypes.get_errno()
thread = threading.Thread(target=print, args=("thread",)); thread.start(); thread.join()
print(subprocess.run(["echo", "process"], capture_output=True, text=True).stdout)
"""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.stdout.split() == ["thread", "process"], done.stderr
