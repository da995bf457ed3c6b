"""Many SPICE decks solved by one run of ngspice."""

import re
import subprocess
from pathlib import Path

_VALUE = re.compile(r"^(\S+) = (\S+)$", re.M)


def run_decks(ngspice: str, decks: list[str], folder: Path) -> list[dict[str, float]]:
    """Voltages that ngspice finds for each deck: node in small letters → volts.

    A deck that does not converge, or is not understood, fails here.
    """
    lines = ["* many decks", ".control", "set numdgt=15"]
    for n, deck in enumerate(decks):
        plain = re.sub(r"\.control.*?\.endc\n", "", deck, flags=re.S)
        (folder / f"{n}.cir").write_text(plain, "ascii")
        lines += [f"source {folder}/{n}.cir", f"echo deck={n}", "op", "print all", "destroy all",
                  "remcirc"]
    (folder / "all.cir").write_text("\n".join([*lines, ".endc", ".end", ""]), "ascii")
    done = subprocess.run([ngspice, "-b", str(folder / "all.cir")], capture_output=True,
                          text=True, timeout=300)
    answers = done.stdout.split("deck=")[1:]
    found = [{name: float(value) for name, value in _VALUE.findall(answer)}
             for answer in answers]
    words = done.stdout[-500:] + done.stderr[-500:]
    assert len(found) == len(decks), words
    assert all(found), f"deck {found.index({})} was not solved: {words}"
    return found
