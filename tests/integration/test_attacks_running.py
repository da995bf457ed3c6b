"""Submissions that die, hang, flood or leave something behind; what came before still counts."""

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pytest

from coldbench.grading.cgroup import ControlGroup
from coldbench.grading.limits import Limits
from coldbench.grading.run import run_cells
from coldbench.grading.sandbox import LIMITS_ONLY

# name → (code of the second answer's cell, words that must be said). The first answer is right.
DEATHS = {
    "os._exit": ("import os; os._exit(0)", "Python ended in the middle of the run"),
    "segmentation fault": ("import ctypes; ctypes.string_at(0)", "Python ended in the middle"),
    "killed by itself": ("import os, signal; os.kill(os.getpid(), signal.SIGKILL)",
                         "Python ended in the middle"),
    "abort": ("import os; os.abort()", "Python ended in the middle"),
    "descriptors closed": ("import os; os.closerange(0, 256)", "Python ended in the middle"),
}
GOING_ON = {  # the cell fails, the cells after it run
    "sys.exit": ("import sys; sys.exit(3)", "SystemExit"),
    "quit": ("quit()", ""),
    "interrupt": ("raise KeyboardInterrupt", "KeyboardInterrupt"),
    "generator exit": ("raise GeneratorExit('x')", "GeneratorExit"),
    "group": ("raise BaseExceptionGroup('x', [SystemExit(), KeyboardInterrupt()])", "Group"),
    "odd error": ("class E(BaseException):\n    def __str__(self): raise self\nraise E()", ""),
    "recursion": ("def f(): return f()\nf()", "RecursionError"),
    "deep data": ("x = []\nfor i in range(200_000): x = [x]\nprint(x)", "RecursionError"),
    "not Python": ("this is not Python (", "SyntaxError"),
    "NUL in source": ("x = 1\x00", ""),
    "magic": ("%run nothing.py\n!ls /\n%reset -f", ""),
    "much memory": ("x = bytearray(8_000_000_000)", "MemoryError"),
    "much output": ("for i in range(2_000_000): print(i)", ""),
    "much shown": ("from IPython.display import display\nfor i in range(5_000): display(i)", ""),
    "stderr": ("import sys; print('error', file=sys.stderr)\n"
               "import warnings; warnings.warn('careful')", ""),
    "streams replaced": ("import sys; sys.stdout = sys.stderr = sys.__stdout__ = None", ""),
}
ENDLESS = {
    "loop": ("while True: pass", "stopped after 3 s"),
    "sleep": ("import time; time.sleep(3600)", "stopped after 3 s"),
    "stop caught": ("while True:\n    try:\n        while True: sum(range(1000))\n"
                    "    except BaseException: continue", "its time was up"),
    "alarm ignored": ("import signal\nsignal.signal(signal.SIGALRM, signal.SIG_IGN)\n"
                      "signal.setitimer(signal.ITIMER_REAL, 0)\nwhile True: pass",
                      "its time was up"),
    "blocking C call": ("10 ** 10 ** 8 % 7; sum(x for x in [10 ** 9 ** 8 ** 7])", "stopped"),
}
LINGERING = """
import os, sys, threading, time
def stay():
    while True: time.sleep(0.1)
threading.Thread(target=stay).start()
threading.Thread(target=stay, daemon=True).start()
import atexit; atexit.register(stay)
if os.fork() == 0:
    os.setsid()
    if os.fork() == 0:
        os.execvp(sys.executable, [sys.executable, "-c",
                  "import time, signal; signal.signal(1, 1); time.sleep(600)", "MARKER"])
    os._exit(0)
"""


@pytest.fixture(scope="module")
def ended(new_desk, level):
    """A class of submissions that die or go on after an error, with honest neighbours."""
    desk = new_desk()
    desk.submit("aa-honest")
    desk.submit("zz-honest")
    for group in (DEATHS, GOING_ON):
        for name, (code, _) in group.items():
            desk.submit(name, {"answer-superheat": code, "answer-words":
                               desk.reference["answer-words"] if name != "magic" else "pass"})
    for name in ("os._exit", "sys.exit"):
        desk.submit(f"{name} first", {"learner": DEATHS.get(name, GOING_ON.get(name))[0]})
    desk.grade(level)
    return desk


@pytest.mark.parametrize("name", DEATHS)
def test_answers_before_the_end_of_python_count(ended, name):
    assert ended.scores(name) == {**ended.nothing, "check-evaporating": 3.0}
    assert DEATHS[name][1] in ended.words(name)
    assert "Not answered." in ended.words(name)


@pytest.mark.parametrize("name", GOING_ON)
def test_a_failing_cell_costs_only_its_own_answer(ended, name):
    words = 0.0 if name == "magic" else 4.0
    assert ended.scores(name) == {
        "check-evaporating": 3.0, "check-superheat": 0.0, "check-words": words}
    assert GOING_ON[name][1] in ended.words(name)
    size = len(ended.outputs(name))
    assert size < 600_000, size


def test_dying_before_the_first_answer(ended):
    assert ended.scores("os._exit first") == ended.nothing
    assert "at cell 'learner'" in ended.words("os._exit first")
    # Without LEARNER the worksheet still opens: the case is the folder's.
    assert ended.scores("sys.exit first") == ended.full


def test_neighbours_are_not_touched(ended):
    for learner in ("aa-honest", "zz-honest"):
        assert ended.scores(learner) == ended.full
        assert ended.record(learner).notices == ()


@pytest.fixture(scope="module")
def endless(new_desk, each_level):
    """Loops that never end, graded once at each level."""
    desk = new_desk()
    desk.submit("zz-honest")
    for name, (code, _) in ENDLESS.items():
        desk.submit(name, {"answer-superheat": code})
    desk.grade(each_level, workers=4)
    return desk


@pytest.mark.parametrize("name", ENDLESS)
def test_endless_cells_are_stopped(endless, name):
    scores = endless.scores(name)
    assert (scores["check-evaporating"], scores["check-superheat"]) == (3.0, 0.0)
    assert ENDLESS[name][1] in endless.words(name)
    assert endless.record(name).seconds < 35  # notebook_seconds is 30


def test_an_honest_neighbour_of_loops_keeps_its_marks(endless):
    assert endless.scores("zz-honest") == endless.full


def running(marker: str) -> list[str]:
    """Command lines of living processes that hold a marker."""
    found = []
    for path in Path("/proc").glob("[0-9]*/cmdline"):
        try:
            words = path.read_bytes()
        except OSError:  # it ended meanwhile
            continue
        if marker.encode() in words:
            found.append(words.replace(b"\0", b" ").decode())
    return found


@pytest.mark.needs_sandbox
def test_nothing_is_left_behind(desk):
    marker = f"coldbench-left-{os.getpid()}-{time.monotonic_ns()}"
    desk.submit("ml-01", {"answer-words": desk.reference["answer-words"] + LINGERING.replace(
        "MARKER", marker)})
    desk.submit("ml-02", {"answer-superheat": LINGERING.replace("MARKER", marker)
                          + "\nos._exit(0)"})
    desk.grade("bubblewrap")
    assert desk.scores("ml-01") == desk.full
    assert desk.scores("ml-02")["check-evaporating"] == 3.0
    deadline = time.monotonic() + 5
    while running(marker) and time.monotonic() < deadline:
        time.sleep(0.1)
    assert not running(marker)
    assert running(Path("/proc/self/cmdline").read_bytes().split(b"\0")[0].decode())


def test_a_control_group_ends_what_escaped():
    group = ControlGroup(500, 8)
    if not group.limits:  # this user may make none: then only the sandbox ends everything
        group.close()
        return
    marker = f"coldbench-escaped-{os.getpid()}-{time.monotonic_ns()}"
    escape = LINGERING[LINGERING.index("if os.fork()"):].replace("MARKER", marker)
    code = f"import os, sys\n{escape}"
    subprocess.run([*group.command(), sys.executable, "-c", code], check=True, timeout=30)
    deadline = time.monotonic() + 10
    while not running(marker) and time.monotonic() < deadline:
        time.sleep(0.05)
    assert running(marker)
    folders = list(group.folders)
    group.close()
    assert not running(marker) and not any(folder.exists() for folder in folders)


def test_without_sandbox_and_group_what_escaped_is_ended(monkeypatch):
    """As for a user who may make no control group."""
    monkeypatch.setattr(ControlGroup, "_make", lambda *ignored: None)
    marker = f"coldbench-stray-{os.getpid()}-{time.monotonic_ns()}"
    cells = [{"id": "x", "source": LINGERING.replace("MARKER", marker) + "\ntime.sleep(0.5)"}]
    assert run_cells(cells, "ml-01", [], LIMITS_ONLY, Limits()).states == {"x": "ok"}
    assert not running(marker)


def test_a_run_without_sandbox_removes_its_folder(desk, tmp_path, monkeypatch):
    temporary = tmp_path / "temporary"
    temporary.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(temporary))
    desk.submit("ml-01", {"answer-words": desk.reference["answer-words"] + """
import os
print("I am in", os.getcwd())
os.makedirs("closed/inner"); open("closed/inner/file", "w").close()
os.chmod("closed/inner", 0); os.chmod("closed", 0)
for number in range(1500):
    os.mkdir("d"); os.chdir("d")
"""})
    desk.grade(LIMITS_ONLY)
    assert desk.scores("ml-01") == desk.full
    assert f"I am in {temporary}" in desk.outputs("ml-01")
    assert os.listdir(temporary) == []
