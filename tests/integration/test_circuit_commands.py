"""`coldbench circuit` and `coldbench meter`: what they print, and how they refuse."""

import json
import re
import subprocess
import sys
from importlib import resources

import pytest

from coldbench.cli import main
from coldbench.electrical import load_circuit, solve

CODE = "from coldbench.cli import main; main()"


def told(capsys, *words: str) -> str:
    """What a command prints; it must succeed without a word of complaint."""
    try:
        main(list(words))
    except SystemExit as end:
        assert end.code in (0, None), capsys.readouterr().err
    captured = capsys.readouterr()
    assert captured.err == ""
    return captured.out


def refused(capsys, *words: str) -> str:
    """The one sentence with which a command ends in status 2."""
    with pytest.raises(SystemExit) as end:
        main(list(words))
    captured = capsys.readouterr()
    assert (end.value.code, captured.out) == (2, "")
    assert captured.err.count("\n") == 1
    assert "Traceback" not in captured.err
    return captured.err


def circuit(capsys, *words: str) -> dict:
    """Plain data of `coldbench circuit`."""
    return json.loads(told(capsys, "circuit", *words, "--json"))


def meter(capsys, *words: str) -> dict:
    """Plain data of `coldbench meter` on the fans."""
    return json.loads(told(capsys, "meter", "three-relay-fans", *words, "--json"))


def test_circuit_keys(capsys):
    data = circuit(capsys, "three-relay-fans", "--state", "low")
    assert {"nodes", "parts", "relays", "notes"} <= set(data)
    assert data["nodes"]["M1.plus"]["volts"] == pytest.approx(13.6, abs=0.1)
    assert data["nodes"]["K1.30"]["thevenin_ohm"] < 0.1
    assert data["nodes"]["S1"]["test_points"] == [1]
    assert data["parts"]["M1"]["current_A"] == pytest.approx(6.3, abs=0.05)
    assert data["relays"] == {"K1": "energised", "K2": "released", "K3": "released"}
    assert data["notes"] == []


def test_circuit_with_faults_and_an_earlier_state(capsys):
    data = circuit(capsys, "three-relay-fans", "--state", "high", "--after", "off",
                   "--after", "low", "--fault", "K2:missing", "--fault", "W1:high_resistance=0.1")
    assert data["faults"] == ["K2:missing", "W1:high_resistance=0.1"]
    assert data["parts"]["M1"]["motor"][1] == "stopped"
    assert data["nodes"]["M1.minus"]["volts"] > 12.5


@pytest.mark.parametrize(("after", "expected"), [([], "released"), (["on"], "energised")])
def test_the_state_before_decides_within_the_hysteresis(capsys, after, expected):
    """6 V are too little to operate the clutch's relay and enough to hold it."""
    words = [w for state in after for w in ("--after", state)]
    clutch = load_circuit("clutch")
    before = solve(clutch, "on") if after else None
    weak = solve(clutch, "on", ["B:weak=6"], previous=before)
    assert weak.relays["KC"] == expected
    data = circuit(capsys, "clutch", "--state", "on", "--fault", "B:weak=6", *words)
    assert data["relays"]["KC"] == "released"  # with the weak supply from the start


def test_inputs_instead_of_a_state(capsys):
    named = circuit(capsys, "three-relay-fans", "--state", "high")
    by_hand = circuit(capsys, "three-relay-fans", "--state", "low_request=true,high_request=on")
    assert by_hand["nodes"] == named["nodes"]


def test_text_shows_points_parts_and_notes(capsys):
    text = told(capsys, "circuit", "three-relay-fans", "--state", "low", "--fault", "M2:stalled")
    assert text.startswith("Two condenser fans on three relays, state low\n  fault: M2")
    assert re.search(r"^ +5 M1\.plus +13\.\d+ V  fan 1, plus$", text, re.M)
    assert "! M2 is stalled" in text
    floating = told(capsys, "circuit", "three-relay-fans", "--state", "low",
                    "--fault", "W14:open")
    assert re.search(r"^ +9 K2\.87 +floating", floating, re.M)


@pytest.mark.parametrize("name", ["three-relay-fans", "clutch", "blower", "supply"])
def test_every_listed_fault_is_taken(capsys, name):
    rows = json.loads(told(capsys, "circuit", name, "--faults", "--json"))
    assert len(rows) > 50
    assert all({"id", "part", "mode", "family"} <= set(row) for row in rows)
    assert len({row["id"] for row in rows}) == len(rows)
    for row in rows[::17]:
        data = circuit(capsys, name, "--fault", row["id"])
        assert data["faults"][0].split("=")[0] == f"{row['part']}:{row['mode']}"
    assert rows[0]["id"] in told(capsys, "circuit", name, "--faults")


def test_netlist_is_the_same_case_for_ngspice(capsys, needs_ngspice, tmp_path):
    """`ngspice -b` prints the operating point; driven nodes agree to 1e-6 V."""
    for state, fault in (("low", "W9:high_resistance=0.5"), ("high", "K2:coil_open")):
        words = ["three-relay-fans", "--state", state, "--fault", fault]
        deck = tmp_path / f"{state}.cir"
        deck.write_text(told(capsys, "circuit", *words, "--netlist"), "ascii")
        done = subprocess.run([needs_ngspice, "-b", str(deck)], capture_output=True, text=True,
                              timeout=60)
        volts = {name: float(value) for name, value
                 in re.findall(r"^(\S+) = (\S+)$", done.stdout, re.M)}
        nodes = circuit(capsys, *words)["nodes"]
        compared = [node for node in nodes if nodes[node]["thevenin_ohm"] < 1e6]
        assert len(compared) > 30
        for node in compared:
            assert nodes[node]["volts"] == pytest.approx(volts[node.lower()], abs=1e-6), node


def test_meter_modes(capsys):
    volts = meter(capsys, "--red", "5", "--black", "6", "--mode", "dcv", "--state", "low")
    assert volts["value"] == pytest.approx(6.77, abs=0.01)
    assert (volts["unit"], volts["shown"], volts["floating"]) == ("V", "6.77 V", False)
    assert volts["uncertainty"] > 0.0
    amps = meter(capsys, "--red", "5", "--black", "6", "--mode", "amps", "--state", "low")
    assert amps["shown"] == "6.3 A"
    ohms = meter(capsys, "--red", "5", "--black", "6", "--mode", "ohm", "--state", "off")
    assert ohms["value"] == pytest.approx(0.17, abs=1e-3)
    coil = meter(capsys, "--red", "15", "--black", "16", "--mode", "ohm", "--power-off")
    assert coil["value"] == pytest.approx(77.9, abs=0.1)
    lamp = meter(capsys, "--red", "3", "--black", "2", "--mode", "lamp", "--state", "off",
                 "--bulb", "21W")
    assert "bright" in lamp["note"]
    drop = meter(capsys, "--red", "K1.87", "--black", "M1.plus", "--mode", "drop",
                 "--state", "high")
    assert drop["value"] == pytest.approx(0.083, abs=0.002)


def test_a_floating_lead_has_no_value(capsys):
    words = ["--red", "9", "--black", "2", "--state", "low", "--fault", "W14:open"]
    data = meter(capsys, *words)
    assert (data["value"], data["floating"]) == (None, True)
    text = told(capsys, "meter", "three-relay-fans", *words)
    assert "unsteady" in text
    assert "0.000" not in text


def test_refusals(capsys, tmp_path):
    live = refused(capsys, "meter", "three-relay-fans", "--red", "5", "--black", "6",
                   "--mode", "ohm", "--state", "low")
    assert "the circuit is live" in live
    assert "--power-off" in live
    cases = [
        (["circuit", "nothing"], "no circuit 'nothing'"),
        (["circuit", "clutch", "--state", "low"], "no state 'low'"),
        (["circuit", "clutch", "--state", "head_request=maybe"], "head_request=maybe"),
        (["circuit", "clutch", "--state", "gear=true"], "unknown input 'gear'"),
        (["circuit", "clutch", "--after", "low"], "no state 'low'"),
        (["circuit", "clutch", "--fault", "KC"], "PART:MODE"),
        (["circuit", "clutch", "--fault", "K9:open"], "no part or wire 'K9'"),
        (["circuit", "clutch", "--fault", "KC:melted"], "no fault 'melted'"),
        (["circuit", "clutch", "--fault", "W3:high_resistance=much"], "is not accepted"),
        (["meter", "clutch", "--red", "1", "--black", "99"], "no test point or node '99'"),
        (["meter", "clutch", "--red", "1", "--black", "2", "--mode", "acv"], "'acv' is unknown"),
        (["meter", "clutch", "--red", "1", "--black", "2", "--power-off"], "--mode ohm"),
        (["meter", "clutch", "--red", "1", "--black", "2", "--mode", "lamp", "--bulb", "9W"],
         "5W, 21W"),
        (["meter", "three-relay-fans", "--red", "1", "--black", "2", "--mode", "amps"],
         "no single wire"),
    ]
    for words, reason in cases:
        assert reason in refused(capsys, *words), words
    file = tmp_path / "mine.toml"
    file.write_text('name = "other"', "utf-8")
    assert "mine.toml: name" in refused(capsys, "circuit", str(file))


def test_a_file_of_ones_own(capsys, tmp_path):
    file = tmp_path / "clutch.toml"
    text = resources.files("coldbench.electrical").joinpath("circuits/clutch.toml").read_text(
        "utf-8")
    file.write_text(text.replace("coil_ohm = 3.6", "coil_ohm = 4.2"), "utf-8")
    own = circuit(capsys, str(file), "--state", "on")
    shipped = circuit(capsys, "clutch", "--state", "on")
    ratio = own["parts"]["CL"]["current_A"] / shipped["parts"]["CL"]["current_A"]
    assert ratio == pytest.approx(3.72 / 4.32, abs=0.01)


def test_as_a_process_without_heavy_libraries():
    code = ("import sys\nfrom coldbench.cli import main\ntry:\n main()\nexcept SystemExit:\n pass\n"
            "print(sorted({'CoolProp', 'pint', 'matplotlib', 'scipy', 'schemdraw'}"
            " & set(sys.modules)))")
    done = subprocess.run([sys.executable, "-W", "error", "-c", code, "meter", "clutch", "--red",
                           "10", "--black", "11", "--state", "on"], capture_output=True,
                          text=True, encoding="utf-8", timeout=60, check=True)
    lines = done.stdout.splitlines()
    assert lines[0].startswith("Voltmeter: 13.3")
    assert lines[-1] == "[]"
    bad = subprocess.run([sys.executable, "-W", "error", "-c", CODE, "circuit", "nothing"],
                         capture_output=True, text=True, timeout=60)
    assert (bad.returncode, bad.stdout) == (2, "")
    assert bad.stderr.startswith("coldbench: no circuit 'nothing'")
