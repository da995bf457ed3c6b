"""Where the gradebook is: the option before course.toml, that before the environment."""

import sqlite3
import sys

import pytest

from coldbench.cli import main
from coldbench.errors import InputError
from coldbench.grading.course import find_course
from coldbench.grading.database import make_engine, spoken_address, without_secrets
from coldbench.grading.demo import DEFAULT_FILE, demo_class
from coldbench.grading.demo import _settings as demo_settings
from coldbench.grading.gradebook import open_gradebook


@pytest.fixture
def root(tmp_path, monkeypatch):
    monkeypatch.delenv("COLDBENCH_GRADEBOOK", raising=False)
    (tmp_path / "autograde").mkdir()
    (tmp_path / "autograde" / "course.toml").write_text("")
    return tmp_path


def test_the_order_of_who_says_where(root, monkeypatch):
    desk = root / "autograde"
    assert find_course(root).gradebook_url == f"sqlite:///{desk / 'gradebook.db'}"
    monkeypatch.setenv("COLDBENCH_GRADEBOOK", "postgresql://ann:pw@db/marks")
    assert find_course(root).gradebook_url == "postgresql+psycopg://ann:pw@db/marks"
    (desk / "course.toml").write_text('gradebook = "kept/marks.db"')
    assert find_course(root).gradebook_url == f"sqlite:///{desk / 'kept' / 'marks.db'}"
    assert find_course(root, "sqlite:////x/y.db").gradebook_url == "sqlite:////x/y.db"
    (desk / "course.toml").write_text("gradebook = 7")
    with pytest.raises(InputError, match="course.toml: gradebook: must be text"):
        find_course(root)


def test_the_invented_class_never_reaches_the_real_gradebook(root, monkeypatch):
    monkeypatch.setenv("COLDBENCH_GRADEBOOK", "postgresql://ann:pw@db/marks")
    (root / "autograde" / "course.toml").write_text(demo_settings(demo_class(), []))
    assert find_course(root).gradebook_url.endswith(f"autograde/{DEFAULT_FILE}")


def test_passwords_stay_out_of_every_text(monkeypatch):
    address = "postgresql+psycopg://ann:s%25cret@db:5433/marks?sslmode=require"
    assert spoken_address(address) == "postgresql://ann:***@db:5433/marks?sslmode=require"
    monkeypatch.setenv("PGPASSWORD", "another")
    assert without_secrets("no s%cret\n nor another here", address) == "no *** nor *** here"


def test_a_missing_driver_is_one_sentence(monkeypatch):
    monkeypatch.setitem(sys.modules, "psycopg", None)
    with pytest.raises(InputError, match=r"pip install 'coldbench\[postgresql\]'"):
        make_engine("postgresql+psycopg://ann@db/marks")


def test_a_database_of_something_else_is_left_alone(root):
    with sqlite3.connect(root / "autograde" / "gradebook.db") as connection:
        connection.execute("CREATE TABLE hours (day TEXT)")
    connection.close()
    with pytest.raises(InputError, match=r"is not a gradebook: it holds other tables \(hours\)"):
        open_gradebook(find_course(root))


def test_nothing_is_made_by_looking(root, capsys):
    with pytest.raises(SystemExit) as end:
        main(["gradebook", "show", "--course", str(root)])
    assert end.value.code == 2 and "there is no gradebook" in capsys.readouterr().err
    assert not (root / "autograde" / "gradebook.db").exists()
