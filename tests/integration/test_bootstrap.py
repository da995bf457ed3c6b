"""`python3 labs` and `python3 tests` on a bare machine: set-up, second start, repair, refusals."""

import contextlib
import importlib
import json
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def bootstrap(monkeypatch):
    """The set-up's own module, as `python3 labs` imports it."""
    monkeypatch.syspath_prepend(str(ROOT / "labs"))
    return importlib.import_module("bootstrap")


# --- the first and the second start ---------------------------------------------------------


def test_first_start_sets_up_and_the_second_does_not_call_pip(small_kit):
    first = small_kit.run("labs", "one", "two words")
    assert first.stdout == f"coldbench one two words in {small_kit.root}\n"
    assert first.stderr.startswith("Setting up Coldbench in .venv")
    assert first.stderr.endswith("Set-up finished.\n")

    second = small_kit.run("labs", pip_fails=True)
    assert (second.stdout, second.stderr) == (f"coldbench demo in {small_kit.root}\n", "")



def test_set_up_writes_nothing_outside_venv(small_kit):
    before = files_outside_venv(small_kit)
    assert small_kit.run("tests").returncode == 0
    assert files_outside_venv(small_kit) == before


def files_outside_venv(kit):
    """Files of the kit but for `.venv` and the byte code of the command that is started."""
    return {path for path in kit.root.rglob("*") if kit.venv not in path.parents
            and path != kit.venv and "coldbench" not in path.parts and path.is_file()}


def test_exit_status_and_folder_are_the_commands_own(ready_kit, tmp_path):
    assert ready_kit.run("labs", "seven").returncode == 7
    outside = ready_kit.run(str(ready_kit.root / "labs"), "pt", folder=tmp_path)
    assert outside.stdout == f"coldbench pt in {tmp_path.resolve()}\n"


def test_extras_add_up(ready_kit):
    tests = ready_kit.run("tests", "-k", "name")
    assert tests.stdout == f"pytest.py -k name in {ready_kit.root}\n"
    assert "Adding packages to .venv for: test." in tests.stderr
    labs = ready_kit.run("labs", pip_fails=True)
    assert (labs.returncode, labs.stderr) == (0, "")
    again = ready_kit.run("tests", pip_fails=True)
    assert (again.returncode, again.stderr) == (0, "")


def test_tests_run_in_the_repository_unless_given_words_inside_it(ready_kit, tmp_path):
    tests = str(ready_kit.root / "tests")
    assert ready_kit.run(tests, "x", folder=tmp_path).stdout.endswith(f"in {ready_kit.root}\n")
    inside = ready_kit.run(tests, "x", folder=ready_kit.root / "labs")
    assert inside.stdout.endswith(f"in {ready_kit.root / 'labs'}\n")


@pytest.mark.parametrize(("words", "shared"), [
    ([], True), (["-q", "--durations=15"], True), (["-x", "-n0"], False), (["-n", "3"], False),
    (["-k", "name"], False), (["tests/unit", "-q"], False), (["--pdb"], False), (["-s"], False),
])
def test_only_the_whole_suite_is_shared_between_processes(bootstrap, monkeypatch, words, shared):
    started = []
    monkeypatch.setattr(bootstrap, "start", lambda *given: started.append(given))
    bootstrap.start_tests(words)
    command = started[0][2]
    assert command == ["-P", "-m", "pytest", *(["-n", "auto"] if shared else []), *words]


def test_changed_versions_are_installed_in_the_same_venv(ready_kit):
    marker = ready_kit.venv / "lib" / "kept"
    marker.write_text("x")
    ready_kit.write("constraints.txt", "numpy==2.0\n")
    run = ready_kit.run("labs")
    assert "has changed; bringing .venv up to date" in run.stderr and marker.exists()
    assert ready_kit.run("labs", pip_fails=True).stderr == ""


def test_two_at_once_set_up_once(small_kit):
    both = [subprocess.Popen(small_kit.command("labs"), cwd=small_kit.root, text=True,
                             stdout=subprocess.PIPE, stderr=subprocess.PIPE) for _ in range(2)]
    told = [process.communicate(timeout=120)[1] for process in both]
    assert [process.returncode for process in both] == [0, 0], told
    assert sum("Set-up finished." in text for text in told) == 1
    assert sum("waiting for it to finish" in text for text in told) == 1


# --- repair ---------------------------------------------------------------------------------


def leave_unfinished(kit):
    edit_note(kit, ready=False)


def edit_note(kit, **changes):
    note = kit.venv / "coldbench.json"
    note.write_text(json.dumps(json.loads(note.read_text()) | changes))


def test_a_venv_whose_python_is_gone_is_made_anew(ready_kit):
    python = ready_kit.venv / "bin" / "python"
    python.unlink()
    python.symlink_to("/nowhere/python3")
    repaired = ready_kit.run("labs")
    assert repaired.returncode == 0
    assert "The Python in .venv is missing or does not start; making it anew." in repaired.stderr
    assert ready_kit.run("labs", pip_fails=True).stderr == ""


def test_repair_works_from_the_python_inside_the_venv(ready_kit):
    leave_unfinished(ready_kit)
    repaired = ready_kit.run("labs", python=str(ready_kit.venv / "bin" / "python"))
    assert repaired.returncode == 0 and "Set-up finished." in repaired.stderr
    assert "The last set-up of .venv was not finished; making it anew." in repaired.stderr


def test_a_moved_repository_is_repaired(ready_kit, tmp_path):
    moved = type(ready_kit)(tmp_path / "moved")
    shutil.copytree(ready_kit.venv, moved.venv, symlinks=True)
    run = moved.run("labs")
    assert run.stdout == f"coldbench demo in {moved.root}\n"
    assert f"made for another folder, {ready_kit.root}" in run.stderr


def test_a_venv_without_a_note_is_used_and_nothing_in_it_is_lost(ready_kit):
    (ready_kit.venv / "coldbench.json").unlink()
    mine = ready_kit.venv / "my notes.txt"
    mine.write_text("mine")
    run = ready_kit.run("labs")
    assert run.returncode == 0 and "has no note of a finished set-up" in run.stderr
    assert mine.read_text() == "mine"
    mine.unlink()


def test_a_missing_kit_is_installed_again(ready_kit):
    pip = [ready_kit.venv / "bin" / "python", "-m", "pip", "uninstall", "-qy", "coldbench"]
    subprocess.run(pip, check=True, capture_output=True)
    assert "Coldbench is missing from .venv" in ready_kit.run("labs").stderr


@pytest.mark.parametrize("stop", [signal.SIGINT, signal.SIGKILL])
def test_an_interrupted_set_up_is_finished_by_the_next(small_kit, stop):
    process = subprocess.Popen(small_kit.command("labs"), cwd=small_kit.root, text=True,
                               stderr=subprocess.PIPE, start_new_session=True)
    while not (small_kit.venv / "coldbench.json").exists() and process.poll() is None:
        time.sleep(0.01)
    os.killpg(process.pid, stop)
    told = process.communicate(timeout=60)[1]
    if stop == signal.SIGINT:
        assert process.returncode == 130
        assert told.endswith("Stopped. Run python3 labs again to go on.\n")
    again = small_kit.run("labs")
    assert again.returncode == 0
    assert "The last set-up of .venv was not finished; making it anew." in again.stderr


# --- refusals: one sentence, nothing lost ---------------------------------------------------


def test_a_file_named_venv_is_left_alone(small_kit):
    small_kit.venv.write_text("mine")
    run = small_kit.run("labs")
    assert (run.returncode, run.stdout) == (2, "")
    assert run.stderr.count("\n") == 1 and "is not a folder, so it is left alone" in run.stderr
    assert small_kit.venv.read_text() == "mine"


def test_a_folder_that_is_no_venv_is_left_alone(small_kit):
    small_kit.write(".venv/thesis.txt", "mine")
    run = small_kit.run("labs")
    assert run.returncode == 2 and "no virtual environment, so it is left alone" in run.stderr
    assert [path.name for path in small_kit.venv.iterdir()] == ["thesis.txt"]


def test_a_persons_files_in_a_broken_venv_stop_the_repair(small_kit):
    small_kit.write(".venv/pyvenv.cfg", "")
    small_kit.write(".venv/thesis.txt", "mine")
    run = small_kit.run("labs")
    assert run.returncode == 2 and "holds thesis.txt, which is no part of it" in run.stderr
    assert sorted(path.name for path in small_kit.venv.iterdir()) == ["pyvenv.cfg", "thesis.txt"]


def test_a_failing_pip_is_one_sentence_with_its_last_lines(small_kit):
    run = small_kit.run("labs", pip_fails=True)
    assert run.returncode == 1 and "Traceback" not in run.stderr
    assert "pip could not install Coldbench; its last lines:\n    " in run.stderr
    assert "/absent/constraints.txt" in run.stderr.splitlines()[-1]
    assert small_kit.run("labs").returncode == 0


def test_a_failing_pip_leaves_a_working_venv_working(ready_kit):
    assert ready_kit.run("labs").returncode == 0
    note = json.loads((ready_kit.venv / "coldbench.json").read_text())
    edit_note(ready_kit, extras=[])
    assert ready_kit.run("tests", pip_fails=True).returncode == 1
    labs = ready_kit.run("labs", pip_fails=True)
    assert (labs.returncode, labs.stderr) == (0, "")
    edit_note(ready_kit, **note)


def test_no_network_is_named_as_such(bootstrap):
    lines = ["WARNING: Retrying after connection broken by 'NewConnectionError(...)'",
             "ERROR: No matching distribution found for numpy"]
    error = bootstrap.installation_failed(lines)
    assert "check the network connection" in str(error) and lines[1] in str(error)
    assert error.status == 1


def test_a_python_without_venv_is_told_what_to_install(bootstrap, monkeypatch, tmp_path):
    find = importlib.util.find_spec
    monkeypatch.setattr(bootstrap.importlib.util, "find_spec",
                        lambda name: None if name == "ensurepip" else find(name))
    with pytest.raises(bootstrap.SetUpError, match=r"apt install python3\.\d+-venv"):
        bootstrap.make_venv(str(tmp_path), [])
    assert list(tmp_path.iterdir()) == []


def test_another_python_version_in_the_venv_is_replaced(bootstrap, monkeypatch, ready_kit):
    assert ready_kit.run("labs").returncode == 0
    monkeypatch.setattr(bootstrap, "python_label", lambda: "3.99")
    need, why = bootstrap.examine(str(ready_kit.root), [])
    label = "%d.%d" % sys.version_info[:2]
    assert need == bootstrap.MAKE
    assert why == f".venv is for Python {label}, this is 3.99; making it anew."


@pytest.mark.parametrize(("newer", "advice"), [
    ("python3.12", "try python3.12 labs"),
    (None, "install a newer Python and start it here, for example: python3.12 labs"),
])
def test_an_old_python_is_refused_in_one_sentence(bootstrap, monkeypatch, newer, advice):
    monkeypatch.setattr(bootstrap, "starts_new_enough", lambda name: name == newer)
    with pytest.raises(bootstrap.SetUpError) as caught:
        bootstrap.refuse_old_python("labs", (3, 10, 13))
    assert str(caught.value) == (
        f"Coldbench needs Python 3.11 or newer; this is 3.10.13: {advice}")


@pytest.mark.parametrize("folder", ["labs", "tests"])
def test_python_3_8_can_read_far_enough(folder):
    """Compiled with 3.8's grammar; run by a real older Python too, where there is one."""
    import ast
    for path in [ROOT / folder / "__main__.py", *(ROOT / "labs").glob("*.py")]:
        ast.parse(path.read_text("utf-8"), feature_version=(3, 8))
    for old in filter(is_old_python, ("python3.8", "python3.9", "python3.10")):
        run = subprocess.run([old, folder], cwd=ROOT, capture_output=True, text=True)
        assert (run.returncode, run.stdout) == (2, "")
        assert run.stderr.startswith("Coldbench needs Python 3.11 or newer; this is 3.")
        assert run.stderr.count("\n") == 1


def is_old_python(command):
    """Whether `command` starts a Python below 3.11 here."""
    with contextlib.suppress(OSError):
        check = "import sys; sys.exit(sys.version_info >= (3, 11))"
        return subprocess.run([command, "-c", check], capture_output=True).returncode == 0
    return False


# --- the whole kit, once --------------------------------------------------------------------


def test_the_whole_kit_installs_on_a_bare_machine(tmp_path, needs_install):
    copy = tmp_path / "coldbench"
    leave = shutil.ignore_patterns(".git", ".venv", "__pycache__", "autograde", ".pytest_cache")
    shutil.copytree(ROOT, copy, ignore=leave)
    python = getattr(sys, "_base_executable", sys.executable)
    for told in ("Set-up finished.\n", ""):
        run = subprocess.run([python, "labs", "--help"], cwd=copy, capture_output=True,
                             text=True, timeout=600)
        assert run.returncode == 0, run.stderr
        assert run.stderr.endswith(told) and "coldbench" in run.stdout
    assert run.stderr == ""
