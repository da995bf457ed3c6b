"""`coldbench pt` as a process of its own."""

import json
import os
import subprocess
import sys

COMMAND = [sys.executable, "-W", "error", "-c", "from coldbench.cli import main; main()", "pt"]


def run(*words: str) -> subprocess.CompletedProcess:
    """Run `coldbench pt` in a new process."""
    return subprocess.run([*COMMAND, *words], capture_output=True, text=True, encoding="utf-8",
                          timeout=60, check=False)


def test_answer_and_refusal():
    good = run("R134a", "--temperature", "0 degC", "--json")
    assert (good.returncode, good.stderr) == (0, "")
    assert json.loads(good.stdout)["fluid"] == "R134a"
    bad = run("R134a", "--temperature", "0")
    assert (bad.returncode, bad.stdout) == (2, "")
    assert bad.stderr.startswith("coldbench: --temperature: '0' has no unit")


def test_an_answer_needs_no_heavy_library():
    code = ("import sys\nfrom coldbench.cli import main\ntry:\n main()\nexcept SystemExit:\n pass\n"
            "print(sorted({'CoolProp', 'pint', 'matplotlib', 'scipy'} & set(sys.modules)))")
    done = subprocess.run([sys.executable, "-c", code, "pt", "R407C", "--gauge-pressure", "5 bar",
                           "--json"], capture_output=True, text=True, timeout=60, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


def test_a_pipe_without_the_degree_sign_still_gets_the_answer():
    done = subprocess.run([*COMMAND, "R134a", "--temperature", "-40 degC"], capture_output=True,
                          timeout=60, check=True, env={**os.environ, "PYTHONIOENCODING": "ascii"})
    assert b"-40.0 degC" in done.stdout


def test_a_reader_that_has_gone_is_no_trouble():
    reader, writer = os.pipe()
    os.close(reader)
    with os.fdopen(writer, "wb") as pipe:
        done = subprocess.run([*COMMAND, "R134a", "--temperature", "0 degC"], stdout=pipe,
                              stderr=subprocess.PIPE, timeout=60, check=False,
                              env={**os.environ, "PYTHONUNBUFFERED": ""})
    assert done.stderr == b""
