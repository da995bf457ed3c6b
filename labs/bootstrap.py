"""Makes `.venv` when needed and starts a command in it, for `python3 labs` and `python3 tests`.

Standard library only, and no syntax newer than Python 3.8, so that an old Python can read
far enough to say that it is too old.

How it decides. A note, `.venv/coldbench.json`, says which set-up the folder holds. It is
marked unfinished before anything changes and finished last, so an interrupted run shows.
- Note finished, fitting, and the Python in `.venv` starts: nothing to do (well under 1 s).
- `pyproject.toml` or `constraints.txt` changed, or packages for tests are asked for the first
  time: pip runs again in the same `.venv`. Extras only ever add up.
- Unfinished, moved, for another Python, or its Python does not start: `.venv` is cleared and
  made anew, but only if it holds nothing except what a virtual environment holds.
- A `.venv` that is no virtual environment is left alone, with one sentence.
Nothing outside `.venv` is written. Two runs at once: the second waits (a lock on
`pyproject.toml`, which the operating system frees even when a run is killed).
"""

import contextlib
import hashlib
import importlib.util
import json
import os
import shutil
import subprocess
import sys
import time

from pip_progress import follow, say, stop

OLDEST_PYTHON = (3, 11)
NEWER_PYTHONS = ("python3.14", "python3.13", "python3.12", "python3.11")
ROOT = os.path.dirname(os.path.dirname(os.path.realpath(__file__)))
NOTE_NAME = "coldbench.json"
# What venv and pip put at the top of a virtual environment. Anything else is a person's.
VENV_ENTRIES = {
    "bin", "include", "lib", "lib64", "share", "etc", "man", "Scripts", "Lib", "Include",
    "pyvenv.cfg", ".gitignore", "CACHEDIR.TAG", ".lock", NOTE_NAME,
}
READY, INSTALL, MAKE = "ready", "install", "make"
RUN_KIT = "import sys; sys.argv[0] = 'coldbench'; from coldbench.cli import main; main()"
PROBE = """
import importlib.util, json, sys
kit = importlib.util.find_spec("coldbench")
pip = importlib.util.find_spec("pip")
print(json.dumps({"python": "%d.%d" % sys.version_info[:2], "pip": bool(pip),
                  "kit": kit and kit.origin}))
"""


class SetUpError(Exception):
    """The set-up cannot go on; the text is one sentence for the person at the keyboard."""


def start_kit(words):
    """Run `coldbench WORDS…` (`coldbench demo` without words); returns an exit status."""
    return start("labs", [], ["-P", "-c", RUN_KIT] + (words or ["demo"]), os.getcwd())


def start_tests(words):
    """Run `pytest WORDS…` on this repository; returns an exit status.

    The whole suite is shared between processes; chosen tests are not worth their start.
    """
    here = os.path.realpath(os.getcwd())
    inside = os.path.commonprefix([here + os.sep, ROOT + os.sep]) == ROOT + os.sep
    folder = here if words and inside else ROOT
    share = ["-n", "auto"] if all_tests(words) else []
    return start("tests", ["test"], ["-P", "-m", "pytest"] + share + words, folder)


def all_tests(words):
    """Whether pytest's WORDS are flags such as -q only, none of which asks for one process."""
    single = ("-k", "-m", "-n", "-p", "-s", "--pdb")
    return all(word.startswith("-") and not word.startswith(single) for word in words)


def start(name, extras, command, folder):
    """Set up, then run `command` in the kit's Python; problems become one sentence.

    Parameters: name, the folder given to Python ("labs" or "tests"), used in messages;
    extras, names from pyproject.toml; command, arguments for Python; folder to run in.
    Returns the exit status: the command's own, 2 for an unusable Python or `.venv`, 1 for a
    failed installation, 130 after Ctrl-C.
    """
    try:
        refuse_old_python(name)
        python = ready_python(ROOT, extras)
        return hand_over(python, command, folder)
    except SetUpError as error:
        say(str(error))
        return getattr(error, "status", 2)
    except KeyboardInterrupt:
        say(f"\nStopped. Run python3 {name} again to go on.")
        return 130
    except OSError as error:
        say(f"The set-up in {ROOT} stopped: {error}.")
        return 1


# --- the Python that runs this file ---------------------------------------------------------


def refuse_old_python(name, version=None):
    """Raise SetUpError naming a newer Python if `version` (default: this one's) is too old."""
    version = tuple(version or sys.version_info[:3])
    if version[:2] >= OLDEST_PYTHON:
        return
    newer = next((command for command in NEWER_PYTHONS if starts_new_enough(command)), None)
    advice = (f"try {newer} {name}" if newer else
              f"install a newer Python and start it here, for example: python3.12 {name}")
    raise SetUpError(f"Coldbench needs Python {'.'.join(map(str, OLDEST_PYTHON))} or newer; "
                     f"this is {'.'.join(map(str, version))}: {advice}")


def starts_new_enough(command):
    """Whether `command` is on PATH and really starts a Python that is new enough."""
    path = shutil.which(command)
    if not path:
        return False
    check = f"import sys; sys.exit(sys.version_info[:2] < {OLDEST_PYTHON})"
    with contextlib.suppress(OSError, subprocess.TimeoutExpired):
        return subprocess.call([path, "-c", check], stdout=subprocess.DEVNULL,
                               stderr=subprocess.DEVNULL, timeout=10) == 0
    return False


def python_label():
    """This Python's version as a virtual environment must match it, for example "3.11"."""
    return "%d.%d" % sys.version_info[:2]


# --- what is there --------------------------------------------------------------------------


def venv_folder(root):
    """The virtual environment of the repository at `root`."""
    return os.path.join(root, ".venv")


def venv_python(root):
    """The Python inside `.venv`, on Windows or elsewhere."""
    parts = ("Scripts", "python.exe") if os.name == "nt" else ("bin", "python")
    return os.path.join(venv_folder(root), *parts)


def fingerprint(root):
    """Hash of the two files that say what to install."""
    digest = hashlib.sha256()
    for name in ("pyproject.toml", "constraints.txt"):
        with open(os.path.join(root, name), "rb") as file:
            digest.update(file.read() + b"\0")
    return digest.hexdigest()


def read_note(root):
    """The note in `.venv`: a dict, {} if it cannot be read, None if there is none."""
    try:
        with open(os.path.join(venv_folder(root), NOTE_NAME), encoding="utf-8") as file:
            note = json.load(file)
    except (FileNotFoundError, NotADirectoryError):
        return None
    except (OSError, ValueError):
        return {}
    return note if isinstance(note, dict) else {}


def write_note(root, note):
    """Write the note in one step, or remove it when `note` is None."""
    path = os.path.join(venv_folder(root), NOTE_NAME)
    if note is None:
        os.remove(path)
        return
    with open(path + ".new", "w", encoding="utf-8") as file:
        json.dump(note, file, indent=1)
    os.replace(path + ".new", path)


def ask_python(root):
    """What the Python in `.venv` says of itself (see PROBE), or None if it does not start."""
    try:
        answer = subprocess.run([venv_python(root), "-I", "-c", PROBE], stdout=subprocess.PIPE,
                                stderr=subprocess.DEVNULL, timeout=60)
        return json.loads(answer.stdout) if answer.returncode == 0 else None
    except (OSError, ValueError, subprocess.TimeoutExpired):
        return None


def examine(root, extras):
    """Decide what `.venv` needs: (READY | INSTALL | MAKE, sentence saying why)."""
    venv = venv_folder(root)
    if not os.path.lexists(venv):
        return MAKE, "Setting up Coldbench in .venv; the first time takes a minute or two."
    refuse_foreign(venv)
    note, python = read_note(root), ask_python(root)
    again = "making it anew."
    if note is not None and not note.get("ready"):
        return MAKE, f"The last set-up of .venv was not finished; {again}"
    if python is None or not python["pip"]:
        return MAKE, f"The Python in .venv is missing or does not start; {again}"
    if python["python"] != python_label():
        return MAKE, f".venv is for Python {python['python']}, this is {python_label()}; {again}"
    if note is None:
        return INSTALL, "This .venv has no note of a finished set-up; installing Coldbench in it."
    if note.get("root") != root:
        return MAKE, f".venv was made for another folder, {note.get('root')}; {again}"
    if os.path.dirname(os.path.realpath(python["kit"] or "")) != os.path.join(
            root, "labs", "coldbench"):
        return INSTALL, "Coldbench is missing from .venv; installing it again."
    if note.get("fingerprint") != fingerprint(root):
        return INSTALL, "pyproject.toml or constraints.txt has changed; bringing .venv up to date."
    if not set(extras) <= set(note.get("extras", [])):
        return INSTALL, f"Adding packages to .venv for: {', '.join(extras)}."
    return READY, ""


def refuse_foreign(venv):
    """Raise SetUpError if `.venv` is something other than a virtual environment."""
    if not os.path.isdir(venv):
        raise SetUpError(f"{venv} is not a folder, so it is left alone; "
                         "rename or remove it and run this again.")
    entries = set(os.listdir(venv))
    if entries and not entries & {"pyvenv.cfg", NOTE_NAME}:
        raise SetUpError(f"{venv} holds files but no virtual environment, so it is left alone; "
                         "rename or remove it and run this again.")


# --- making it right ------------------------------------------------------------------------


def ready_python(root, extras):
    """Make `.venv` fit for `extras` if it is not; returns the path of its Python."""
    if examine(root, extras)[0] != READY:
        with locked(os.path.join(root, "pyproject.toml")):
            # Looked at again, since another run may have finished the work meanwhile.
            need, why = examine(root, extras)
            if need != READY:
                say(why)
                set_up(root, extras, anew=need == MAKE)
    return venv_python(root)


def set_up(root, extras, anew):
    """Make `.venv` if `anew`, then install the kit with all extras it has had so far."""
    before = read_note(root)
    extras = sorted(set(extras) | set((before or {}).get("extras", [])))
    if anew:
        make_venv(root, extras)
        before = None
    write_note(root, {"ready": False, "extras": extras})
    status, lines = install(root, extras)
    if status != 0:
        if not any(line.startswith("Installing collected packages") for line in lines):
            write_note(root, before)  # pip had changed nothing yet
        raise installation_failed(lines)
    write_note(root, {"ready": True, "fingerprint": fingerprint(root), "root": root,
                      "python": python_label(), "extras": extras})
    say("Set-up finished.")


def make_venv(root, extras):
    """Clear `.venv` of an older virtual environment and make a new one."""
    if importlib.util.find_spec("venv") is None or importlib.util.find_spec("ensurepip") is None:
        raise venv_missing()
    venv = venv_folder(root)
    os.makedirs(venv, exist_ok=True)
    clear_venv(root, extras)
    # A virtual environment's own Python may just have been removed: use the one beneath it.
    base = getattr(sys, "_base_executable", None) or sys.executable
    made = subprocess.run([base, "-m", "venv", venv], stdin=subprocess.DEVNULL,
                          stdout=subprocess.PIPE, stderr=subprocess.STDOUT, env=environment(root),
                          universal_newlines=True, errors="replace")
    if made.returncode != 0:
        if "ensurepip is not available" in made.stdout:
            raise venv_missing()
        raise failure(f"{base} could not make {venv}; it said:", made.stdout.splitlines())


def clear_venv(root, extras):
    """Empty `.venv`, its note last; refuses if a person keeps anything of their own in it."""
    venv = venv_folder(root)
    strangers = sorted(set(os.listdir(venv)) - VENV_ENTRIES - {NOTE_NAME + ".new"})
    if strangers:
        raise SetUpError(f"{venv} has to be made anew, but holds {', '.join(strangers[:3])}, "
                         "which is no part of it; move that away and run this again.")
    write_note(root, {"ready": False, "extras": extras})
    for name in set(os.listdir(venv)) - {NOTE_NAME}:
        path = os.path.join(venv, name)
        if os.path.isdir(path) and not os.path.islink(path):
            shutil.rmtree(path)
        else:
            os.remove(path)


def venv_missing():
    """The sentence for a Python that comes without its venv parts, as on Debian."""
    return SetUpError(
        "This Python cannot make virtual environments (its venv or ensurepip part is missing); on "
        f"Debian or Ubuntu, run: apt install python{python_label()}-venv, then run this again.")


def install(root, extras):
    """Run pip for the kit and `extras`; returns (exit status, the lines it printed)."""
    target = f".[{','.join(extras)}]" if extras else "."
    command = [venv_python(root), "-m", "pip", "install", "--disable-pip-version-check",
               "--no-input", "--no-color", "--progress-bar", "off", "-c", "constraints.txt",
               "-e", target]
    process = subprocess.Popen(command, cwd=root, env=environment(root), stdin=subprocess.DEVNULL,
                               stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
                               universal_newlines=True, errors="replace")
    try:
        lines = follow(process)
        return process.wait(), lines
    finally:
        stop(process)


def installation_failed(lines):
    """The error for a failed pip: what it means if we can tell, then pip's last lines."""
    text = "\n".join(lines)
    offline = ("NewConnectionError", "Temporary failure in name resolution", "ConnectTimeout",
               "ProxyError", "Network is unreachable", "Max retries exceeded")
    if any(sign in text for sign in offline):
        return failure("pip could not reach its package index: check the network connection, "
                       "then run this again. pip's last lines:", lines)
    return failure("pip could not install Coldbench; its last lines:", lines)


def failure(sentence, lines):
    """A SetUpError with exit status 1 and the last lines of a tool's output."""
    tail = [line for line in lines if line.strip()][-8:]
    error = SetUpError("\n    ".join([sentence, *tail]))
    error.status = 1
    return error


@contextlib.contextmanager
def locked(path):
    """Hold a lock on the file at `path`; says so if it has to wait for another run."""
    with open(path, "rb") as file:
        if not try_lock(file):
            say("Another set-up is running in this folder; waiting for it to finish.")
            while not try_lock(file):
                time.sleep(0.5)
        yield


def try_lock(file):
    """Whether this run now holds the lock (freed when the file is closed)."""
    try:
        if os.name == "nt":
            import msvcrt
            file.seek(1 << 30)  # past the end: readers of the file are not disturbed
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            import fcntl
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except (BlockingIOError, PermissionError):
        return False
    except OSError:
        return True  # a file system without locks: go on without one
    return True


# --- handing over ---------------------------------------------------------------------------


def environment(root):
    """Environment for the kit: `.venv` first on PATH, nothing that bends Python or pip."""
    bending = ("PYTHONHOME", "PYTHONPATH", "PIP_TARGET", "PIP_PREFIX", "PIP_USER",
               "PIP_REQUIRE_VIRTUALENV", "__PYVENV_LAUNCHER__")
    env = {key: value for key, value in os.environ.items() if key not in bending}
    env["VIRTUAL_ENV"] = venv_folder(root)
    scripts = os.path.dirname(venv_python(root))
    env["PATH"] = scripts + os.pathsep + env.get("PATH", os.defpath)
    return env


def hand_over(python, command, folder):
    """Become the command (POSIX) or run it (Windows); returns its exit status."""
    os.chdir(folder)
    env = environment(os.path.dirname(os.path.dirname(os.path.dirname(python))))
    if os.name == "nt":  # exec there would give the prompt back before the command ends
        return subprocess.call([python, *command], env=env)
    sys.stdout.flush()
    os.execve(python, [python, *command], env)
