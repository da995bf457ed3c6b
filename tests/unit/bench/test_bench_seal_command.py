"""`coldbench bench seal`: the file it writes, and what it says of bad input."""

import pytest

from coldbench.bench import open_sealed
from coldbench.cli.app import main


def run(*words) -> int:
    with pytest.raises(SystemExit) as left:
        main(["bench", "seal", *map(str, words)])
    return left.value.code


def test_it_writes_a_file_that_a_session_opens(tmp_path, capsys):
    key, file = tmp_path / "key", tmp_path / "bench-7.sealed"
    key.write_text("0123456789abcdef0123")
    assert run("blue", "--fault", "K1:coil_open", "--state", "off", "-o", file,
               "--key", key) == 0
    said = capsys.readouterr().out
    assert "Sealed Blue bench, signed" in said and "K1" not in said
    session = open_sealed(file, b"0123456789abcdef0123").session()
    assert session.states == ("off",)
    session.unplug("K1")
    assert "OL" not in session.meter("ohms", "K1.86", "K1.85").words  # its resistor is left
    assert session.meter("ohms", "K1.86", "K1.85").values["ohms"].value > 600.0


@pytest.mark.parametrize(("words", "told"), [
    (("green", "-o", "x"), "no bench 'green'"),
    (("blue", "--fault", "K1:tired", "-o", "x"), "K1 has no fault 'tired'"),
    (("blue", "--state", "flying", "-o", "x"), "has no state 'flying'"),
    (("blue", "--key", "none.key", "-o", "x"), "--key: none.key cannot be read"),
])
def test_bad_input_is_told_in_a_sentence(words, told, tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert run(*words) == 2
    assert told in capsys.readouterr().err and not (tmp_path / "x").exists()


def test_a_short_key_and_a_place_that_cannot_be_written_are_told(tmp_path, capsys):
    short = tmp_path / "short"
    short.write_text("abc")
    assert run("blue", "-o", tmp_path / "x", "--key", short) == 2
    assert "holds 3 bytes; a key needs 16 or more" in capsys.readouterr().err
