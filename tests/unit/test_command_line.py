"""What the command line itself says, whatever the command."""

import pytest

import coldbench
from coldbench.cli import app as command_line


def test_a_file_that_the_system_refuses_is_one_sentence(monkeypatch, capsys):
    def refused(_):
        raise PermissionError(13, "Permission denied", "marks.csv")

    monkeypatch.setattr(command_line, "app", refused)
    with pytest.raises(SystemExit) as end:
        command_line.main(["pt"])
    assert end.value.code == 2
    assert capsys.readouterr().err == "coldbench: marks.csv cannot be used: Permission denied\n"


def test_an_error_that_names_no_file_is_not_taken_for_bad_input(monkeypatch):
    def broken(_):
        raise OSError("a mistake of the program")

    monkeypatch.setattr(command_line, "app", broken)
    with pytest.raises(OSError, match="a mistake of the program"):
        command_line.main(["pt"])


def test_the_version_is_said(capsys):
    with pytest.raises(SystemExit) as end:
        command_line.main(["--version"])
    assert end.value.code == 0
    assert capsys.readouterr().out == f"coldbench {coldbench.__version__}\n"
