"""The journal's file: what is written stays readable, what was changed shows, nothing raises."""

import json
import os
import random
import re
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldbench.errors import InputError
from coldbench.worksheet import channel
from coldbench.worksheet.entries import (
    LARGEST_BYTES, LONGEST_LINE, MOST_ENTRIES, Entry, Owner, check_lines, entry_line, head_line,
)
from coldbench.worksheet.journal import JOURNAL_FILE, Journal, journal_value, open_journal
from coldbench.worksheet.journal_words import WIDTH, journal_html, journal_text

OWNER = Owner("term-1", "fans", "ml-07")
NEIGHBOUR = Owner("term-1", "fans", "ml-08")


def filled(folder, owner=OWNER, count=5):
    journal = Journal(folder, owner)
    for number in range(count):
        measure(journal, 12.0 + number)
    return journal


def measure(journal, volts=12.0, **more):
    return journal.add("voltmeter", {"red": 5, "black": "B.minus"}, volts, "V",
                       settings={"state": "low"}, uncertainty=0.1, minutes=1, **more)


def read(folder, owner=OWNER):
    return check_lines((folder / JOURNAL_FILE).read_text("utf-8").splitlines(), owner)


def readings(findings):
    return [entry.reading for entry in findings.entries]


def rewritten(folder, change):
    """Rewrite the file's lines with a function of the list of lines."""
    path = folder / JOURNAL_FILE
    lines = change(path.read_text("utf-8").splitlines())
    path.write_text("".join(f"{line}\n" for line in lines), "utf-8")


def test_measurements_are_kept_in_order_and_survive_a_restart(tmp_path):
    filled(tmp_path, count=2)
    measure(Journal(tmp_path, OWNER), 20.0, note="Ω – ü")  # a new kernel
    found = read(tmp_path)
    assert readings(found) == [12.0, 13.0, 20.0] and not found.troubles
    assert [entry.n for entry in found.entries] == [1, 2, 3]
    assert found.entries[2].note == "Ω – ü" and found.entries[0].state == "low"
    lines = (tmp_path / JOURNAL_FILE).read_text("utf-8").splitlines()
    assert len(lines) == 4  # one head, since the chain went on
    tables = [json.loads(line) for line in lines]
    for before, after in zip(tables, tables[1:], strict=False):
        assert after["previous"] == before["hash"]


def test_spellings_of_one_learner_id_are_one_owner(tmp_path):
    filled(tmp_path, Owner("term-1", "fans", "ML-07 "), 1)
    measure(Journal(tmp_path, OWNER), 15.0)
    assert readings(read(tmp_path)) == [12.0, 15.0]


def test_an_edited_reading_is_named_and_the_others_stay(tmp_path):
    filled(tmp_path)
    rewritten(tmp_path, lambda lines: [line.replace("14.0", "11.9") for line in lines])
    found = read(tmp_path)
    assert readings(found) == [12.0, 13.0, 15.0, 16.0] and found.damaged == (4,)
    assert found.tampered
    assert found.troubles == [
        "Line 4 of the journal was changed by hand, copied or damaged and does not count."]


@pytest.mark.parametrize("field", ["n", "time", "instrument", "arguments", "settings", "reading",
                                   "unit", "uncertainty", "minutes", "note", "previous", "hash"])
def test_no_field_can_be_changed_unseen(tmp_path, field):
    filled(tmp_path)

    def change(lines):
        table = json.loads(lines[2])
        table[field] = {"n": 9, "reading": 1.5, "uncertainty": 9.0, "minutes": 0}.get(
            field, {"red": 1} if isinstance(table[field], dict) else "other")
        return [*lines[:2], json.dumps(table), *lines[3:]]

    rewritten(tmp_path, change)
    found = read(tmp_path)
    assert 13.0 not in readings(found) or field == "previous" and not found.entries
    assert found.damaged or found.broken


def test_a_line_taken_out_put_in_or_moved_breaks_the_chain(tmp_path):
    filled(tmp_path)
    rewritten(tmp_path, lambda lines: lines[:3] + lines[4:])
    found = read(tmp_path)
    assert readings(found) == [12.0, 16.0] and found.broken == (3, 4)
    assert "where lines were taken out" in found.troubles[0]
    rewritten(tmp_path, lambda lines: [*lines[:2], lines[3], lines[2], *lines[4:]])
    assert read(tmp_path).tampered


def test_damaged_lines_keep_the_rest(tmp_path):
    filled(tmp_path)
    rewritten(tmp_path, lambda lines: [*lines[:2], "not JSON at all", *lines[3:], "", "[1, 2]"])
    found = read(tmp_path)
    assert readings(found) == [12.0, 14.0, 15.0, 16.0] and found.damaged == (3, 8)


def test_after_a_line_broken_off_the_next_measurement_starts_a_new_chain(tmp_path):
    filled(tmp_path)
    path = tmp_path / JOURNAL_FILE
    path.write_bytes(path.read_bytes()[:-40])  # the power failed
    measure(Journal(tmp_path, OWNER), 20.0)
    found = read(tmp_path)
    assert readings(found) == [12.0, 13.0, 14.0, 15.0, 20.0] and found.damaged == (6,)
    assert not found.broken


def test_anothers_journal_is_named_and_counts_nothing(tmp_path):
    filled(tmp_path, NEIGHBOUR)
    found = read(tmp_path)
    assert found.entries == () and found.foreign == {"learner 'ml-08'": 5}
    assert found.troubles == ["5 of another journal (learner 'ml-08') do not count."]
    for owner in (Owner("term-2", "fans", "ml-08"), Owner("term-1", "sensors", "ml-08")):
        assert not read(tmp_path, owner).entries


def test_anothers_lines_under_an_own_head_count_nothing(tmp_path):
    filled(tmp_path, NEIGHBOUR)
    rewritten(tmp_path, lambda lines: [head_line(OWNER, "2026-01-01")[0], *lines[1:]])
    found = read(tmp_path)
    assert found.entries == () and found.damaged == (2, 3, 4, 5, 6)


def test_a_renamed_head_is_no_head(tmp_path):
    filled(tmp_path, NEIGHBOUR)
    rewritten(tmp_path, lambda lines: [lines[0].replace("ml-08", "ml-07"), *lines[1:]])
    found = read(tmp_path)
    assert found.entries == () and len(found.damaged) == 6


def test_practice_before_the_id_was_written_is_no_blemish(tmp_path):
    filled(tmp_path, Owner("term-1", "fans", "practice"), 2)
    measure(Journal(tmp_path, OWNER), 20.0)
    found = read(tmp_path)
    assert readings(found) == [20.0] and found.practice == 2
    assert not found.tampered and not found.foreign
    assert found.troubles == ["2 made with the practice numbers do not count."]


def test_two_notebooks_on_one_file_keep_one_chain(tmp_path):
    one, two = Journal(tmp_path, OWNER), Journal(tmp_path, OWNER)
    for number in range(6):
        measure((one, two)[number % 2], float(number))
    found = read(tmp_path)
    assert readings(found) == [0.0, 1.0, 2.0, 3.0, 4.0, 5.0] and not found.troubles


def test_a_full_journal_says_so_and_is_left_as_it_was(tmp_path):
    (tmp_path / JOURNAL_FILE).write_text("x" * 79 + "\n", "utf-8")
    rewritten(tmp_path, lambda lines: lines * (LARGEST_BYTES // 80))
    before = (tmp_path / JOURNAL_FILE).read_bytes()
    journal = Journal(tmp_path, OWNER)
    assert measure(journal).reading == 12.0
    assert "journal is full" in journal.trouble
    assert (tmp_path / JOURNAL_FILE).read_bytes() == before


def test_no_more_than_the_most_are_read():
    lines, previous = [], ""
    line, previous = head_line(OWNER, "t")
    lines.append(line)
    for number in range(1, MOST_ENTRIES + 6):
        line, previous = entry_line(OWNER, Entry(number, "t", "voltmeter", reading=1.0), previous)
        lines.append(line)
    found = check_lines(lines, OWNER)
    assert len(found.entries) == MOST_ENTRIES and found.surplus == 5
    assert check_lines([lines[0]] * 50_000, OWNER).surplus > 40_000


@pytest.mark.parametrize("where", ["a folder", "no folder", "read-only"])
def test_what_cannot_be_written_is_kept_and_said(tmp_path, where, monkeypatch):
    folder = tmp_path / "lab"
    if where != "no folder":
        folder.mkdir()
    if where == "a folder":
        (folder / JOURNAL_FILE).mkdir()
    journal = Journal(folder, OWNER)
    if where == "read-only":  # root may write anywhere, so the system's answer is made up
        def refuse(*ignored, **more):
            raise OSError(30, "Read-only file system")
        monkeypatch.setattr("coldbench.worksheet.journal.open", refuse, raising=False)
    measure(journal, 1.0)
    measure(journal, 2.0)
    assert "cannot be written" in journal.trouble and "2 measurements are kept" in journal.trouble
    assert [entry.reading for entry in journal.entries] == [1.0, 2.0]
    monkeypatch.undo()
    folder.mkdir(exist_ok=True)
    if where == "a folder":
        (folder / JOURNAL_FILE).rmdir()
    measure(journal, 3.0)
    assert journal.trouble == "" and readings(read(folder)) == [1.0, 2.0, 3.0]


def test_a_disk_that_runs_full_leaves_no_half_line(tmp_path, monkeypatch):
    filled(tmp_path, count=1)
    before = (tmp_path / JOURNAL_FILE).read_bytes()

    def full(*ignored):
        raise OSError(28, "No space left on device")

    journal = Journal(tmp_path, OWNER)
    monkeypatch.setattr(os, "fsync", full)
    measure(journal, 20.0)
    assert "cannot be written (No space left on device); 1 measurements" in journal.trouble
    assert (tmp_path / JOURNAL_FILE).read_bytes() == before
    monkeypatch.undo()
    measure(journal, 21.0)
    assert readings(read(tmp_path)) == [12.0, 20.0, 21.0] and not read(tmp_path).troubles


def test_what_is_not_plain_is_refused_with_a_sentence(tmp_path):
    journal = Journal(tmp_path, OWNER)
    for arguments, reading, minutes in (({"red": object()}, 1.0, 0), ({}, [1.0], 0), ({}, 1.0, -1),
                                        ({}, 1.0, float("nan")), ({"red": "x" * 4000}, 1.0, 0),
                                        ({}, True, 0)):
        with pytest.raises(InputError):
            journal.add("voltmeter", arguments, reading, "V", minutes=minutes)
    assert not (tmp_path / JOURNAL_FILE).exists()
    assert journal.add("ohmmeter", {}, float("inf"), "Ω").reading == "inf"


def test_grading_adds_nothing_to_a_journal_that_was_handed_in(tmp_path, monkeypatch):
    filled(tmp_path, count=1)
    monkeypatch.setattr(channel, "_assigned", {"learner": "ml-07", "journal": True})
    journal = open_journal(tmp_path, OWNER)
    assert measure(journal, 99.0).reading == 99.0  # the cell still gets its reading
    value = journal_value(journal)
    assert readings(check_lines(value["journal"], OWNER)) == [12.0] and value["remade"] is False
    monkeypatch.setattr(channel, "_assigned", {"learner": "ml-07", "journal": False})
    measure(open_journal(tmp_path, OWNER), 13.0)
    assert journal_value(open_journal(tmp_path, OWNER))["remade"] is True
    assert readings(read(tmp_path)) == [12.0, 13.0]


def test_an_empty_journal_is_no_answer(tmp_path):
    assert journal_value(Journal(tmp_path, OWNER)) is None


def test_tables_show_measurements_and_troubles_and_nothing_runs(tmp_path):
    journal = filled(tmp_path, count=1)
    journal.add("ohmmeter", {"red": "<b>5"}, None, note="the circuit is live")
    rewritten(tmp_path, lambda lines: [*lines, "damaged"])
    assert repr(journal).splitlines()[:4] == [
        "low:", "   1  voltmeter, red 5, black B.minus: 12 V ± 0.1 V",
        "no settings:", "   2  ohmmeter, red <b>5: refused: the circuit is live"]
    assert "! Line 4 of the journal was changed" in repr(journal)
    page = journal_html(journal.findings)
    assert page.count("<th scope='col' ") == 4 and page.count("<tr style='break-inside:avoid'>") == 2
    assert ">low</th>" in page and page.index(">low</th>") < page.index("12 V")
    assert "<caption" in page and "&lt;b&gt;5" in page and "<b>5" not in page
    assert journal_text(check_lines([], OWNER)) == "The journal holds no measurements yet."


def test_long_readings_are_broken_between_words_and_never_before_a_unit(tmp_path):
    journal = Journal(tmp_path, OWNER)
    for first in range(1, 8):  # the break comes at another place in each
        journal.add("look", {}, "x" * first + ", door 0 % ± 5 %, pressure 1200 kPa, sun 301 W/m2" * 5)
    lines = repr(journal).splitlines()
    assert len(lines) > 20 and all(len(line) <= WIDTH for line in lines)
    assert all(line.startswith(" " * 6) or line[:4].strip().isdigit() for line in lines)
    assert not any(re.match(r" +([%±]|kPa|W/m2)", line) for line in lines)
    assert re.sub(r"\s+", " ", "".join(lines)).count("door 0 % ± 5 %") == 35


LINES = st.one_of(
    st.text(max_size=60),
    st.sampled_from([
        "{}", "[]", "null", "1e999", "NaN", '{"journal": 1}', '{"journal": [1]}', "[" * 3000,
        '{"n": ' + "9" * 3900 + "}", '{"hash": null, "previous": null}', '{"a": "\\ud800"}',
        '{"journal": 1, "course": {}, "lab": [], "learner": 5, "hash": []}']),
    st.dictionaries(st.sampled_from([*Entry.__dataclass_fields__, "previous", "hash", "journal"]),
                    st.one_of(st.none(), st.booleans(), st.integers(), st.floats(),
                              st.text(max_size=5), st.lists(st.integers(), max_size=2)),
                    max_size=13).map(json.dumps))


@given(st.lists(LINES, max_size=8), st.integers(0, 8))
def test_no_line_of_a_stranger_raises_or_counts(lines, place):
    own_head, seal = head_line(OWNER, "t")
    own, _ = entry_line(OWNER, Entry(1, "t", "voltmeter", reading=5.0), seal)
    found = check_lines([*lines[:place], own_head, own, *lines[place:]], OWNER)
    assert readings(found) == [5.0] or (found.broken and not found.entries)
    json.dumps([entry.as_dict() for entry in found.entries], allow_nan=False)
    assert len(" ".join(found.troubles)) < 600


def test_huge_lines_and_numbers_cost_no_time_and_count_nothing():
    sealed = [Entry(1, "t", "v", reading=value) for value in (True, float("nan"))]
    for entry in sealed:
        with pytest.raises((ValueError, TypeError)):
            line, _ = entry_line(OWNER, entry, "x")
            assert not check_lines([head_line(OWNER, "t")[0], line], OWNER).entries
            raise ValueError  # it could be written, but did not count
    big = '{"n": 1, "reading": ' + "9" * 500_000 + "}"
    assert check_lines([big, "x" * (LONGEST_LINE + 1)], OWNER).damaged == (1, 2)
    for number in (10**400, 2**60, -(2**70)):
        line, _ = entry_line(OWNER, Entry(1, "t", "v", reading=number),
                             head_line(OWNER, "t")[1])
        assert not check_lines([head_line(OWNER, "t")[0], line], OWNER).entries


def test_random_bytes_are_read_as_damage(tmp_path):
    dice = random.Random(7)
    (tmp_path / JOURNAL_FILE).write_bytes(dice.randbytes(50_000))
    journal = Journal(tmp_path, OWNER)
    assert journal.entries == ()
    measure(journal, 8.0)
    assert readings(journal.findings) == [8.0]
    assert sys.getsizeof(repr(journal)) < 5_000
