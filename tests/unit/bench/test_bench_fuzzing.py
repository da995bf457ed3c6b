"""A thousand bench files with something wrong: a clear message or a valid bench, never more."""

import copy
import datetime
import random
import tomllib
from importlib import resources
from pathlib import Path

import pytest

from coldbench.bench import Bench, parse_bench
from coldbench.bench.build import made
from coldbench.errors import InputError

FOLDER = Path(str(resources.files("coldbench.bench").joinpath("data")))
TEXT = (FOLDER / "quay.toml").read_text("utf-8")
TABLES = tomllib.loads(TEXT)
ODD = (0, -1, 7, 1e300, -0.5, float("nan"), float("inf"), True, "", " ", "x", "B.plus", "bus", "auto",
       "blue.toml", "../quay.toml", "ä", [], [[]], [1], ["x"], [{}], {}, {"x": 1}, {"": {}},
       datetime.date(2024, 2, 30 - 1))
COUNT = 500


def places(tables, path=()):
    """Every place in nested tables."""
    inner = tables.items() if isinstance(tables, dict) else enumerate(tables)
    for key, value in inner:
        yield (*path, key)
        if isinstance(value, (dict, list)):
            yield from places(value, (*path, key))


def mutated_tables(draw):
    tables = copy.deepcopy(TABLES)
    for _ in range(draw.choice((1, 1, 1, 2, 4))):
        *way, key = draw.choice(list(places(tables)))
        holder = tables
        for step in way:
            holder = holder[step]
        action = draw.choice(("odd", "odd", "odd", "drop", "rename", "twice", "other"))
        if action == "odd":
            holder[key] = copy.deepcopy(draw.choice(ODD))
        elif action == "drop":
            del holder[key]
        elif action == "rename" and isinstance(holder, dict):
            holder[draw.choice((f"{key}x", "", str(key)[:-1]))] = holder.pop(key)
        elif action == "twice" and isinstance(holder, list):
            holder.append(copy.deepcopy(holder[key]))
        else:
            *other, last = draw.choice(list(places(TABLES)))
            source = TABLES
            for step in other:
                source = source[step]
            holder[key] = copy.deepcopy(source[last])
    return tables


def mutated_text(draw):
    lines = TEXT.splitlines()
    for _ in range(draw.choice((1, 1, 2, 3))):
        at = draw.randrange(len(lines))
        line = lines[at]
        action = draw.choice(("drop", "twice", "cut", "letter", "number", "swap"))
        if action == "drop":
            lines[at] = ""
        elif action == "twice":
            lines.insert(at, line)
        elif action == "cut":
            lines[at] = line[: len(line) // 2]
        elif action == "letter" and line:
            spot = draw.randrange(len(line))
            lines[at] = line[:spot] + draw.choice("x9.\"[]{}=#\\\t ß\0") + line[spot + 1:]
        elif action == "number":
            lines[at] = "".join(draw.choice("0123456789") if c.isdigit() else c for c in line)
        else:
            other = draw.randrange(len(lines))
            lines[at], lines[other] = lines[other], lines[at]
    return "\n".join(lines)


def clear(error):
    """One sentence for each mistake, and it names the file."""
    for message in error.mistakes:
        assert message.startswith("quay.toml: ") and "\n" not in message
        assert len(message) > len("quay.toml: x") and "Traceback" not in message
    return True


def run(call, *values):
    """Whether a mutation was refused; anything but a message or a bench fails the test."""
    try:
        assert isinstance(call(*values), Bench)
    except InputError as error:
        return clear(error)
    return False


@pytest.mark.parametrize("kind", ["tables", "text"])
def test_mutated_files_are_refused_clearly_or_valid(kind):
    refused = 0
    for seed in range(COUNT):
        draw = random.Random(f"{kind} {seed}")
        try:
            refused += (run(made, mutated_tables(draw), "quay.toml", FOLDER) if kind == "tables"
                        else run(parse_bench, mutated_text(draw), "quay.toml", FOLDER))
        except Exception as error:
            raise AssertionError(f"{kind} {seed}: {error!r}") from error
    assert 0.3 * COUNT < refused < COUNT  # most mutations hurt, some do not


def test_binary_and_missing_files_are_refused(tmp_path):
    from coldbench.bench import load_bench

    (tmp_path / "odd.toml").write_bytes(b"\xff\xfe\x00name")
    (tmp_path / "folder.toml").mkdir()
    for name in ("odd.toml", "folder.toml", "none.toml"):
        with pytest.raises(InputError, match=name):
            load_bench(tmp_path / name)
