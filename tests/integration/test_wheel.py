"""The built wheel carries the package with all its data, and nothing of the course."""

import subprocess
import zipfile
from pathlib import Path

import pytest
from hatchling.builders.wheel import WheelBuilder

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "labs" / "coldbench"


@pytest.fixture(scope="module")
def wheel_names(tmp_path_factory) -> set[str]:
    """Names of the files in a freshly built wheel."""
    folder = tmp_path_factory.mktemp("wheel")
    built = list(WheelBuilder(str(ROOT)).build(directory=str(folder), versions=["standard"]))
    with zipfile.ZipFile(built[0]) as wheel:
        return set(wheel.namelist())


def test_every_file_of_the_package_is_in_the_wheel(wheel_names):
    expected = {path.relative_to(PACKAGE.parent).as_posix() for path in package_files()}
    assert {name for name in wheel_names if ".dist-info/" not in name} >= expected


def package_files() -> list[Path]:
    """Files of the package, data files among them, without what git ignores."""
    files = [path for path in PACKAGE.rglob("*")
             if path.is_file() and "__pycache__" not in path.parts]
    check = subprocess.run(["git", "check-ignore", "--stdin"], cwd=ROOT, text=True,
                           input="\n".join(map(str, files)), capture_output=True)
    return [path for path in files if str(path) not in set(check.stdout.splitlines())]


def test_nothing_else_is_in_the_wheel(wheel_names):
    tops = {name.split("/")[0] for name in wheel_names if ".dist-info/" not in name}
    assert tops == {"coldbench"}
    assert not [name for name in wheel_names if name.endswith((".ipynb", ".md", ".pyc"))]


def test_the_command_and_licence_are_declared(wheel_names):
    info = {name.split(".dist-info/")[1] for name in wheel_names if ".dist-info/" in name}
    assert {"entry_points.txt", "METADATA", "licenses/LICENSE"} <= info
