"""The start page and the folder `coldbench lab` opens."""

import json

import pytest

from coldbench.cli import lab
from coldbench.cli.lab import UNSAFE_KEYS, find_desk, write_settings
from coldbench.errors import InputError
from coldbench.grading.start_page import write_start_page

LABS = {"second-lab": ("Second", 2, 1), "first-lab": ("First", 1, 1.5)}


@pytest.fixture
def release(tmp_path):
    """A release folder with two labs."""
    for name, (title, order, hours) in LABS.items():
        folder = tmp_path / "course" / "release" / name
        folder.mkdir(parents=True)
        text = f'title = "{title}"\norder = {order}\nhours = {hours}\n'
        (folder / "lab.toml").write_text(text)
    return tmp_path / "course" / "release"


def make_course(release):
    """Turn the folder above the release into a course."""
    desk = release.parent / "autograde"
    desk.mkdir()
    (desk / "course.toml").write_text('title = "Marsh Lane workshop"\ncode = "t"\n')
    return release.parent


def test_labs_stand_in_teaching_order_and_point_beside_the_page(release):
    page = write_start_page(release).read_text()
    first = page.index("[First](first-lab/first-lab.ipynb) | 1.5 hours")
    assert first < page.index("[Second](second-lab/second-lab.ipynb) | 1 hour")
    assert "source/" not in page


def test_a_page_without_labs_says_so(tmp_path):
    assert "No lab has been released yet." in write_start_page(tmp_path).read_text()
    with pytest.raises(InputError, match="is not a folder"):
        write_start_page(tmp_path / "none")


def test_a_course_is_found_from_any_folder_in_it(release):
    root = make_course(release)
    for start in (root, release, release / "first-lab"):
        desk = find_desk(start)
        assert (desk.root, desk.page) == (root, release / "start.md")
        assert desk.course is not None


def test_a_learners_folder_of_labs_opens_too_and_gets_its_page(release):
    desk = find_desk(release)
    assert (desk.root, desk.page, desk.course) == (release, release / "start.md", None)


def test_an_existing_start_page_is_never_written_over(release):
    (release / "start.md").write_text("Ours.")
    assert find_desk(release).page.read_text() == "Ours."


def test_another_folder_is_refused_in_one_sentence(tmp_path):
    with pytest.raises(InputError, match="neither a course .* nor a folder of labs"):
        find_desk(tmp_path)
    with pytest.raises(InputError, match="is not a folder"):
        find_desk(tmp_path / "none")


def test_a_port_in_use_is_refused_in_one_sentence():
    import socket

    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(InputError, match="cannot be used here"):
            lab._require_free(taken.getsockname()[1])
    with pytest.raises(InputError, match="accepted: 1 to 65535"):
        lab._require_free(70_000)


def test_settings_switch_off_what_this_jupyterlab_really_has(release, tmp_path):
    write_settings(tmp_path / "settings", None)
    written = (tmp_path / "settings/labconfig/default_setting_overrides.json").read_text()
    off = json.loads(written)["@jupyterlab/shortcuts-extension:shortcuts"]["shortcuts"]
    assert {entry["keys"][0] for entry in off} >= UNSAFE_KEYS - {"D"}
    assert all(entry["disabled"] and entry["selector"] for entry in off)


def test_the_form_for_marking_is_only_for_courses(release, tmp_path):
    course = find_desk(make_course(release)).course
    for name, given in (("teacher", course), ("learner", None)):
        write_settings(tmp_path / name, given)
        config = json.loads((tmp_path / name / "jupyter_server_config.json").read_text())
        extensions = config["ServerApp"]["jpserver_extensions"]
        assert extensions["nbgrader.server_extensions.formgrader"] is (given is not None)
        assert extensions["nbgrader.server_extensions.validate_assignment"] is True
