"""Wrong bench files: every mistake in one sentence with file, key and reason; and the commands."""

import re
import tomllib
from importlib import resources
from pathlib import Path

import pytest

from coldbench.bench import load_bench, parse_bench, trial
from coldbench.cli import main
from coldbench.errors import Gather, InputError
from coldbench.panels.bench_drawing import bench_svg, wiring_tiles

FOLDER = Path(str(resources.files("coldbench.bench").joinpath("data")))
TEXT = (FOLDER / "quay.toml").read_text("utf-8")


def told(*changes):
    """The mistakes of the quay bench's file after changes (before, after)."""
    text = TEXT
    for before, after in changes:
        assert before in text, before
        text = text.replace(before, after, 1)
    with pytest.raises(InputError) as refused:
        parse_bench(text, "quay.toml", FOLDER)
    return refused.value.mistakes


@pytest.mark.parametrize(("before", "after", "wanted"), [
    # unknown part
    ('motor = "MB"', 'motor = "M9"', "quay.toml: blower: motor: the wiring has no motor 'M9'; it "
                                     "has M1, MB"),
    ('coil = "CL"', 'coil = "MB"', "quay.toml: clutch: coil: the wiring has no coil 'MB'"),
    ('part = "PT21"', 'part = "PT9"', "quay.toml: input 'pressure': quay has no ratio_output 'PT9'"),
    ('kind = "switch"', 'kind = "lever"', "quay.toml: part SI: unknown kind 'lever'"),
    # wire to nowhere
    ('to = "SI.a"', 'to = "SX.a"', "quay.toml: wire W101: to: unknown part in 'SX.a'"),
    ('to = "SI.a"', 'to = "SI.c"', "wire W101: to: switch SI has no terminal 'SI.c'"),
    ('to = "SI.a"', 'to = "S98"', "wire W101: to: dangling wire, nothing else ends at S98"),
    # unit missing
    ("open_kPa = 2900.0", "open = 2900.0", "pressure_switch: unknown key 'open', its unit is "
                                           "missing: write 'open_kPa'"),
    ("rating_A = 5.0", "rating = 5.0", "part F11 (fuse): unknown key 'rating', its unit is "
                                       "missing: write 'rating_A'"),
    ("ambient_degC = 33.0", "ambient = 33.0", "state.cooling: unknown key 'ambient', its unit is "
                                              "missing: write 'ambient_degC'"),
    # thresholds crossing
    ("close_kPa = 2200.0", "close_kPa = 2950.0", "pressure_switch: close_kPa must be below"),
    ("release_A = 0.7", "release_A = 2.7", "clutch: release_A must be below engage_A"),
    # faults on what is not there
    ('"M1:worn"', '"M7:worn"', "fault dirty-radiator-pack: faults: M7:worn: quay has no part or "
                               "wire 'M7'"),
    ('"M1:worn"', '"M1:sad"', "fault dirty-radiator-pack: faults: M1:sad:"),
    ('"fan.high.on_kPa"', '"fan.highest.on_kPa"', "calibration: the calibration has no entry"),
    ("2600.0 }", "900.0 }", "fault head:fan-thresholds: calibration: fan: high crosses itself"),
    # what has to be found elsewhere
    ('state = "heating"', 'state = "warming"', "there is no state 'warming'; states are cooling"),
    ("set_points_degC = [16.0]", "set_points_degC = [16.0, 18.0]", "but the head has 1 zones"),
    ('"blend cabin" = "blend door"', '"blend cabin" = "door"', "doors: blend cabin: no input "),
    ('calibration = "one_zone_head"', 'calibration = "green_head"', "head: calibration: no cal"),
    ('calibration = "one_zone_head"', 'calibration = "g.toml"', "there is no file 'g.toml' beside"),
    ('file = "one-fan-resistor"', 'file = "two-fans"', "circuit: file: no circuit 'two-fans'"),
    ('blower_duty = "blower"', 'blower_duti = "blower"', "requests: blower_duti: the wiring has "),
    ("B = [3, 0]", "B = [3]", "layout of B: [3] is not a place"),
    ("F12 = [93, 1]", "F98 = [93, 1]", "layout names 'F98', which is no part"),
    ('name = "quay"', 'name = "kay"', "name is 'kay'; it must be the file's name without .toml, 'quay'"),
])
def test_each_bad_input_gets_one_sentence(before, after, wanted):
    mistakes = told((before, after))
    assert any(wanted in one for one in mistakes), mistakes
    assert all(one.startswith("quay.toml: ") and "\n" not in one for one in mistakes)
    assert len(mistakes) <= 2  # one slip does not bring down a shower


def test_all_independent_mistakes_are_told_at_once():
    mistakes = told(('motor = "MB"', 'motor = "M9"'), ("open_kPa = 2900.0", "open = 2900.0"),
                    ("fluid = \"R152a\"", "fluid = \"R12\""), ('to = "SI.a"', 'to = "SX.a"'),
                    ('from = "F12.b"', 'from = "F12.c"'), ("[16.0]", "[66.0]"),
                    ('state = "heating"', 'state = 3'),
                    ('severity = 0.7', 'severity = 7'))
    for key in ("pressure_switch", "loop: fluid", "wire W101", "wire W122", "set_points_degC",
                "severity", "symptom"):
        assert any(key in one for one in mistakes), key
    assert len(mistakes) >= 8


def test_a_fault_by_hand_may_not_stand_for_itself():
    assert "is itself a fault written by hand" in told(
        ('"M1:worn"', '"dirty-radiator-pack"'))[0]


def test_an_own_circuit_tells_all_its_mistakes_too(tmp_path):
    fan = resources.files("coldbench.electrical").joinpath("circuits", "one-fan-resistor.toml")
    text = fan.read_text("utf-8").replace('name = "one-fan-resistor"', 'name = "our-fan"')
    text = text.replace("rating_A = 50.0", "rating = 50.0").replace("size_mm2 = 16.0", "size = 16.0")
    (tmp_path / "our-fan.toml").write_text(text, "utf-8")
    with pytest.raises(InputError) as refused:
        parse_bench(TEXT.replace('"one-fan-resistor"', '"our-fan.toml"'), "quay.toml", tmp_path)
    assert [one.split(":")[0] for one in refused.value.mistakes] == ["our-fan.toml"] * 3


def test_a_state_that_cannot_be_solved_would_be_told(monkeypatch):
    from coldbench.errors import ConvergenceError

    def stuck(bench, state):
        raise ConvergenceError("neither comes to rest nor repeats itself")

    monkeypatch.setattr(trial, "read", stuck)
    gather = Gather()
    assert trial.trial(load_bench("quay"), gather) == {}
    assert len(gather.mistakes) == 5 and "state.off: no steady state" in gather.mistakes[-1]


def command(capsys, *words):
    """Exit status and printed words of a command."""
    try:
        main(["bench", *map(str, words)])
        status = 0
    except SystemExit as end:
        status = end.code or 0
    said = capsys.readouterr()
    return status, said.out + said.err


def test_new_then_check_then_a_mistake(tmp_path, capsys):
    file = tmp_path / "our-bench.toml"
    assert command(capsys, "new", file)[0] == 0
    status, said = command(capsys, "check", file)
    assert status == 0 and said.startswith("our-bench.toml: no mistakes. It has 62 parts")
    status, said = command(capsys, "new", file)
    assert status == 2 and "exists already" in said
    file.write_text(file.read_text("utf-8").replace('fluid = "R134a"', "fluid = 3\nwet = true"))
    status, said = command(capsys, "check", file)
    assert status == 1 and said.count("our-bench.toml: loop:") == 2 and "2 mistakes." in said


def test_check_shows_the_line_and_the_lists_that_are_replaced(tmp_path, capsys):
    file = tmp_path / "ours.toml"
    start = 'name = "ours"\nlike = "blue"\n'
    file.write_text(start + "[state.hot]\nambient_degC = 32,5\n")
    status, said = command(capsys, "check", file)
    assert status == 1 and 'line 4, "ambient_degC = 32,5": a decimal number takes a point' in said
    file.write_text(start + '[[wire]]\nid = "W901"\ncircuit = 12\nfrom = "S1"\nto = "F1.a"\n'
                    "size_mm2 = 1.0\nlength_m = 0.4\n")
    status, said = command(capsys, "check", file)
    kept = len(parse_wires("blue"))
    assert status == 1
    assert f"[[wire]]: what this file lists (1) takes the place of the whole list of the blue " \
           f"bench ({kept})" in said


def parse_wires(name):
    """The wires that a shipped bench's own file lists."""
    return tomllib.loads((FOLDER / f"{name}.toml").read_text("utf-8"))["wire"]


@pytest.mark.parametrize("name", ["our bench.toml", "bench", 'x".toml', "none/b.toml"])
def test_new_refuses_odd_places(name, tmp_path, capsys):
    status, said = command(capsys, "new", tmp_path / name)
    assert status == 2 and said.count("\n") == 1 and "Traceback" not in said
    assert list(tmp_path.iterdir()) == []


def test_check_remarks_on_what_is_hardly_meant(tmp_path, capsys):
    text = TEXT.replace('name = "quay"', 'name = "mine"').replace(
        'comparison = "below", value = 10.0', 'comparison = "below", value = 150.0').replace(
        '"SH:stuck_closed" =', '"SX:stuck_closed" =')
    (tmp_path / "mine.toml").write_text(text, "utf-8")
    status, said = command(capsys, "check", tmp_path / "mine.toml")
    assert status == 0
    assert "note: mine.toml: symptom.no air from the vents: shows without any fault" in said
    assert "no fault is called 'SX:stuck_closed'" in said


def remarked(folder, capsys, *changes) -> str:
    """What a check says of the quay bench after changes, the file saved by a plain editor."""
    text = TEXT.replace('name = "quay"', 'name = "mine"')
    for before, after in changes:
        assert before in text, before
        text = text.replace(before, after)
    (folder / "mine.toml").write_bytes(b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode())
    status, said = command(capsys, "check", folder / "mine.toml")
    assert status == 0
    return said


def test_check_remarks_on_what_never_runs(tmp_path, capsys):
    assert "note:" not in remarked(tmp_path, capsys)
    weak = remarked(tmp_path, capsys, ("engage_A = 2.1", "engage_A = 12.1"))
    assert "but the clutch engages in none of them: look at clutch.engage_A" in weak
    forgotten = remarked(tmp_path, capsys, ('blower_duty = "blower"\n', ""))
    assert "requests: nothing asks for 'blower_duty', so BM is never on" in forgotten
    assert "but the blower draws no current" in forgotten
    cut = remarked(tmp_path, capsys, ('low_request = "fan low"\n', ""),
                   ('high_request = "fan high"\n', ""))
    assert "but fan M1 draws no current" in cut and "so D1 is never on" in cut


def test_seal_tries_its_file_before_the_work(tmp_path, capsys, monkeypatch):
    monkeypatch.setattr("coldbench.bench.seal", lambda *ignored: pytest.fail("worked in vain"))
    for place in (tmp_path, tmp_path / "nowhere" / "x.sealed"):
        status, said = command(capsys, "seal", "blue", "--fault", "K1:coil_open", "-o", place)
        assert status == 2 and "--output" in said and "cannot be written" in said
    assert list(tmp_path.iterdir()) == []


def test_a_seal_that_fails_leaves_the_old_file(tmp_path, capsys, monkeypatch):
    def fails(*ignored):
        raise InputError("no fault of that name")

    monkeypatch.setattr("coldbench.bench.seal", fails)
    kept = tmp_path / "x.sealed"
    kept.write_bytes(b"before")
    assert command(capsys, "seal", "blue", "-o", kept)[0] == 2
    assert kept.read_bytes() == b"before" and list(tmp_path.iterdir()) == [kept]


def test_show_tells_and_draws(tmp_path, capsys):
    status, said = command(capsys, "show", "quay")
    assert status == 0 and "condenser fan M1: all of the airflow at 2,240 rpm" in said
    status, said = command(capsys, "show", "quay", "--draw", tmp_path / "quay.svg")
    assert status == 0
    svg = (tmp_path / "quay.svg").read_text("utf-8")
    assert svg.startswith("<?xml") and "<title>Quay bench</title>" in svg
    words = re.search(r"<desc>(.*?)</desc>", svg, re.DOTALL)[1]
    assert "receiver-drier" in words and "R152a" in words and "K2" in words
    assert command(capsys, "show", "quay", "--draw", tmp_path / "quay.gif")[0] == 2


def test_every_part_and_test_point_is_drawn_and_in_one_of_the_parts_to_print():
    bench = load_bench("quay")
    svg, tiles = bench_svg(bench), wiring_tiles(bench)
    for part in bench.circuit.parts.values():
        assert f">{part.id}" in svg
        assert any(f"{part.id} {part.label}".strip() in tile.words for tile in tiles), part.id
    for number in bench.circuit.test_points:
        assert f">{number}</text>" in svg
    assert len(tiles) == 2 and len({tile.title for tile in tiles}) == 2
