"""The panel of the whole bench: in view, taken, done; the same for any source."""

import re
from dataclasses import replace
from unittest import mock

import pytest
from coldbench.bench import Measured, Session, load_bench, open_sealed, seal
from coldbench.bench.source import ModelSource
from coldbench.errors import InputError
from coldbench.panels import BenchPanel
from coldbench.panels.bench_actions import ACTIONS, controls_of, start_of
from coldbench.panels.bench_scene import backdrop, foreground, words
from coldbench.panels.bench_view import view_of
from coldbench.worksheet.bench_session import BenchSession
from coldbench.worksheet.journal import Owner, open_journal

STATE = "full cooling"


class OnlyWhatIsAsked:
    """A source that has no bench and no faults to look into, as a sealed file has none."""

    def __init__(self, source: ModelSource):
        self.outfit, self.scene = source.outfit, source.scene
        self.off_after_repair = source.off_after_repair


@pytest.fixture(scope="module")
def blue():
    return load_bench("blue")


@pytest.fixture(scope="module")
def source(blue):
    """The blue bench with a dead fan relay, solved once for every test."""
    return ModelSource(blue, ["K1:coil_open"])


@pytest.fixture
def noted():
    return []


@pytest.fixture
def panel(source, noted):
    return BenchPanel(Session(source, STATE, noted.append))


def shown(panel, name: str) -> str:
    """What moves in a picture, and its words."""
    return " ".join(panel._frame["pictures"][name])


def test_only_what_eyes_and_ears_get_is_in_view_at_first(panel, noted):
    assert noted == [] and panel.session.minutes == 0 and panel._frame["rows"] == []
    scene = shown(panel, "scene")
    assert "fan 1 stands still" in scene.lower() and "fan 2 turns fast" in scene.lower()
    assert "clutch pulled in" in scene and "blend left 0 %" in scene and "°C" not in scene
    assert "not read" in shown(panel, "gauges") and "kPa" not in shown(panel, "gauges")
    assert "Set point left 16.0 °C" in shown(panel, "display")
    assert panel.readings() == {"state": STATE, "minutes": 0.0, "meter": None}


def test_a_reading_appears_when_it_is_taken_and_is_noted(panel, noted):
    got = panel.take("gauges")
    assert noted == [got] and got.minutes > 0 and panel.session.minutes == got.minutes
    high = got.values["gauge high"].value
    assert panel.readings()["gauge high [kPa]"] == high
    assert f"{high:,.0f} kPa" in shown(panel, "gauges") and "not read" not in shown(panel, "gauges")
    assert panel._frame["rows"][0][:3] == ["1", "gauges", STATE]
    panel.take("Pipe thermometer", pipe="suction line")
    assert "suction line" in words(panel._state.view) and "°C" in shown(panel, "scene")


def test_a_reading_holds_only_while_the_bench_stands_as_it_stood(panel):
    panel.take("gauges")
    panel.set(state="off")
    assert "not read" in shown(panel, "gauges") and len(panel._frame["rows"]) == 1
    panel.set(state=STATE)
    assert "not read" not in shown(panel, "gauges")


def test_the_meter_shows_its_leads_and_only_their_reading(panel):
    panel.set(red=15, black=16)
    assert panel.readings()["meter"] is None
    got = panel.take("read")
    assert 12 < got.values["volts"].value < 14  # supply across a coil that does not pull in
    board = shown(panel, "points")
    assert got.values["volts"].unit == "V" and panel.readings()["meter"] in board
    assert len(re.findall('cb-wd-red"', board)) == 1 and ">R<" in board and ">B<" in board
    assert "red on 15, relay 1, terminal 86" in board
    panel.set(red=3)
    assert panel.readings()["meter"] is None


def test_ohms_on_a_live_circuit_are_refused_and_cost_nothing(panel):
    got = panel.take("read", mode="ohms", red=15, black=16)
    assert got.refused and panel.session.minutes == 0 and panel.readings()["meter"] is None
    assert "refused: " in panel._frame["line"] and "refused" in panel._frame["rows"][0][3]
    got = panel.take("read", state="off")
    assert 600 < got.values["ohms"].value < 700  # coil open: only the 680 ohm beside it is left


def test_leads_come_first(panel, noted):
    with pytest.raises(InputError, match="place both leads first"):
        panel.take("read", red="none")
    assert noted == []
    panel.take("read", red=5)
    assert len(noted) == 1


def test_a_relay_put_right_lets_the_fan_turn(panel):
    panel.set(state="off")
    panel.take("replace", part="K1")
    panel.set(state=STATE)
    assert "fan 1 stands still" not in shown(panel, "scene").lower()
    assert "K1 replaced" in panel._frame["line"]


def test_the_service_tool_gives_lines_with_the_heads_reasons(panel):
    panel.take("codes")
    panel.take("live")
    lists = dict(panel._frame["lists"])
    assert lists["Stored codes"] == ["no codes stored"]
    assert any(line.startswith("fans asked for: ") for line in lists["Live data"])
    assert any(re.match(r"fans (low|high): [\d,]+ kPa", line)
               for line in lists["The head's decisions and why"])
    panel.set(state="off")
    assert panel._frame["lists"] == [] and "display is dark" in shown(panel, "display")


def test_what_code_does_at_the_session_is_shown_too(panel):
    panel.session.set_state("gentle cooling")
    panel.session.gauges()
    panel.set()
    assert panel.settings["state"] == "gentle cooling"
    assert "not read" not in shown(panel, "gauges")


def test_a_source_that_knows_no_bench_looks_the_same(source):
    def used(one):
        panel = BenchPanel(Session(one, STATE), red=5, black=6)
        for what in ("gauges", "live", "codes", "read", "Actuator test", "Leak search"):
            panel.take(what)
        return panel.html()

    assert used(source) == used(OnlyWhatIsAsked(source))


@pytest.fixture(scope="module")
def sealed(blue, tmp_path_factory):
    """The same bench as a file of readings, in two states."""
    path = tmp_path_factory.mktemp("sealed") / "bench.sealed"
    path.write_bytes(seal(blue, ["K1:coil_open"], states=(STATE, "off")))
    return open_sealed(path)


def test_a_sealed_bench_looks_like_the_model(source, sealed):
    def used(one):
        panel = BenchPanel(Session(one, STATE), red=15, black=16)
        for what in ("gauges", "live", "codes", "read", "pipe thermometer"):
            panel.take(what)
        return panel._frame["pictures"], panel._frame["lists"], panel._frame["rows"]

    assert used(source) == used(sealed)


def test_what_a_sealed_bench_cannot_show_is_not_in_view(sealed):
    panel = BenchPanel(sealed.session("off"))
    panel.take("unplug", plugged="M1")
    assert "Nothing is in view" in panel._frame["line"]
    assert "Not in view" in shown(panel, "display") and "dark" not in shown(panel, "display")
    panel.take("plug")
    assert "Nothing is in view" not in panel._frame["line"]


def test_a_worksheets_session_writes_the_journal_and_prints_nothing(source, tmp_path, capsys):
    journal = open_journal(tmp_path, Owner("spring", "automatic-control", "ml-07"))
    panel = BenchPanel(BenchSession(Session(source, STATE), journal), red=15, black=16)
    panel.set(state="off")
    panel.set(state=STATE)
    assert not journal.entries
    panel.take("read")
    got = panel.take("pipe thermometer")
    assert [e.instrument for e in journal.entries] == ["voltmeter", "pipe thermometer"]
    assert got.values and capsys.readouterr().out == ""
    with mock.patch.object(panel._core, "gauges", lambda: print("a cell prints") or got):
        panel.take("gauges")  # panels work beside a cell that runs: its words are not theirs
    assert capsys.readouterr().out == "a cell prints\n"
    panel.session.gauges()
    panel.set()
    assert "not read" not in shown(panel, "gauges")


def test_every_button_does_what_its_call_does(panel, noted):
    panel.set(state="off", red=5, black=6)
    for name in ACTIONS:
        panel.take(name)
    assert [one.instrument for one in noted] == [action.instrument for action in ACTIONS.values()]


def test_buttons_tell_their_minutes_and_absent_instruments_are_not_offered(source):
    outfit = replace(source.outfit, leave_out=("oscilloscope", "recovery"), sight_glass=False)
    controls = {c.name: c for c in controls_of(outfit, start_of(outfit))}
    assert controls["gauges"].label.endswith(f", {outfit.minutes['gauges']:g} min")
    assert not {"recover", "sight_glass"} & set(controls)
    assert "scope" not in dict(controls["mode"].options)
    assert controls["replace"].label.endswith(f", {outfit.parts[outfit_part(outfit)]:g} min")


def outfit_part(outfit) -> str:
    return next(iter(outfit.parts))


def test_unknown_instruments_places_and_values_are_refused(panel, noted):
    for wrong, message in ((lambda: panel.take("hammer"), "no 'hammer'"),
                           (lambda: panel.take("take_pipe", pipe="exhaust"), "exhaust"),
                           (lambda: panel.set(red=999), "999")):  # fmt: skip
        with pytest.raises(InputError, match=message):
            wrong()
    assert noted == []


def test_every_test_point_can_be_reached(panel):
    points = panel._stage["targets"]["points"]
    assert [int(point[0]) for point in points] == sorted(panel.session.outfit.points)
    places = {tuple(point[2:]) for point in points}
    assert len(places) == len(points)


def test_one_zone_and_one_fan_are_drawn_as_one(source):
    outfit = replace(source.outfit, vents=("cabin",))
    seen = {"fan M1": Measured(-1.0, "", 0.0, "fan 1"), "clutch": Measured(0.0, "", 0.0, "x"),
            "door blend cabin": Measured(50.0, "%", 5.0, "blend cabin door, as seen")}  # fmt: skip
    view = view_of(outfit, seen, {"vent cabin": Measured(9.5, "degC", 0.5, "vent")})
    drawn = backdrop(view) + foreground(view)
    assert "fan 2" not in drawn and "turns backwards" in drawn and "clutch let go" in drawn
    assert ">vent<" in drawn and "9.5 °C" in drawn and "blend cabin 50 %" in drawn


def test_the_still_view_holds_everything_shown(panel):
    panel.take("gauges")
    panel.take("live")
    html = panel.html()
    assert html.count("<svg") == 4 and html.count("<desc>") == 4 and "<script" not in html
    for said in ("Low side", "Fan 1 stands still", "The head&#x27;s decisions and why", "min in all"):
        assert said in html
    assert "nothing taken yet" not in panel._repr_mimebundle_()[0]["text/plain"]


def test_rows_bear_the_numbers_of_the_journal_and_a_look_can_be_noted(source, tmp_path):
    journal = open_journal(tmp_path, Owner("term", "lab", "ml-07"))
    journal.add("gauges", {}, 200.0, "kPa")
    panel = BenchPanel(BenchSession(Session(source, STATE), journal, "bench 500"))
    panel.take("gauges"), panel.take("Note what is seen and heard")
    instruments = {entry.n: entry.instrument for entry in journal.entries}
    rows = [(int(row[0]), row[1]) for row in panel._frame["rows"]]
    assert [number for number, _ in rows] == [4, 2]
    assert all(instruments[number] == words for number, words in rows)
    assert "fan 1 stands still" in panel._frame["rows"][0][3]
    assert panel.title == "Bench 500: the whole bench"


def test_menus_say_what_a_part_or_wire_is_and_take_its_name_alone():
    panel = BenchPanel(load_bench("blue").session("full cooling"))
    menus = {c["name"]: dict(c["options"]) for c in panel._stage["controls"] if "options" in c}
    bare = {one for name in ("branch", "plugged", "part") for one, words in menus[name].items()
            if one == words}  # fmt: skip
    outfit = panel.session.outfit
    assert not bare & {*outfit.branches, *outfit.pluggable} and bare < set(outfit.parts)
    assert menus["branch"]["CL"] == "CL  Compressor clutch"
    assert menus["branch"]["W9"] == "W9  wire from relay 1, terminal 87 to fan 1, plus"
    panel.take("clamp", branch="CL")
    assert panel._frame["rows"][0][1] == "current clamp, CL"


def test_a_bench_sealed_without_names_still_has_its_menus(source):
    outfit = replace(source.outfit, names={})
    menus = {c.name: dict(c.options) for c in controls_of(outfit, start_of(outfit))
             if hasattr(c, "options")}  # fmt: skip
    assert menus["branch"]["CL"] == "CL"
