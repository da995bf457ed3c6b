"""Records: an answer as plain data, small enough to travel and safe to read.

Whatever a learner's notebook sends is untrusted. `make_record` makes an answer plain on the
way out, `read_record` checks one on the way in; both keep to the same limits.
"""

import json
import math
from collections.abc import Mapping
from itertools import islice
from typing import Any

from coldbench.errors import InputError

LARGEST_RECORD_BYTES = 20_000
DEEPEST = 6
MOST_KEY_PARTS = 12
_ACCEPTED = "accepted are a number, text, a list or a table of those"


def is_blank(value: Any) -> bool:
    """Say whether a value stands for "not answered yet": `...`, None or blank text.

    A list or table is blank when it has entries and all of them are; an empty list is an
    answer ("none of them").

    >>> is_blank(...), is_blank("  "), is_blank(0.0), is_blank({"A": None}), is_blank([])
    (True, True, False, True, False)
    """
    if value is None or value is Ellipsis:
        return True
    if isinstance(value, (dict, list)):
        entries = list(value.values()) if isinstance(value, dict) else value
        return bool(entries) and all(is_blank(entry) for entry in entries)
    return isinstance(value, str) and not str.strip(value)


def plain(value: Any, depth: int = DEEPEST, largest: int = LARGEST_RECORD_BYTES) -> Any:
    """Turn an answer into plain JSON data: text, number, list or table of those.

    largest [characters]. Number-like objects of other libraries become numbers; a quantity with
    `magnitude` and `units` becomes text such as "5 K"; a row named by several words keeps them
    with commas between. Raises InputError for anything else.

    >>> plain((1, 2.5, "dew"))
    [1, 2.5, 'dew']
    """
    return _Plainer(largest).plain(value, depth)


class _Plainer:
    """Makes one answer plain; gives up once it holds more than fits in a record."""

    def __init__(self, size: int):
        self._left, self._size = size, size

    def plain(self, value: Any, depth: int) -> Any:
        if depth == 0:
            raise InputError(f"the answer is nested more than {DEEPEST} levels deep")
        self._spend(1)
        if value is None or value is Ellipsis:
            return None
        if isinstance(value, bool):
            return value
        if isinstance(value, str):
            return self._text(value)
        if isinstance(value, dict):
            return {self._key(key): self.plain(item, depth - 1)
                    for key, item in self._some(value.items())}
        if isinstance(value, (list, tuple)) or _is_array(value):
            return [self.plain(item, depth - 1) for item in self._some(value)]
        if _is_single(value):  # of an array library: a bool stays a bool, a text a text
            return None if _is_masked(value) else self.plain(value.item(), depth - 1)
        if hasattr(value, "magnitude") and hasattr(value, "units"):
            return self._text(f"{float(value.magnitude)!r} {_unit_text(value.units)}")
        return _plain_number(value)

    def _spend(self, size: int) -> None:
        self._left -= size
        if self._left < 0:
            raise InputError(f"the answer is larger than {self._size:,} characters")

    def _some(self, items: Any) -> list[Any]:
        return list(islice(items, self._left + 1))

    def _text(self, text: str) -> str:
        self._spend(str.__len__(text))
        # Half a character pair cannot be written into any file.
        return str.__str__(text).encode("utf-8", "replace").decode("utf-8")

    def _key(self, key: Any) -> str:
        if isinstance(key, tuple) and 0 < len(key) <= MOST_KEY_PARTS:
            return ", ".join(map(self._key, key))
        if not isinstance(key, (str, int, float)):
            raise InputError(f"a table's rows are named by text or a number, not by {_a_type(key)}")
        return self._text(str(key))


def _is_array(value: Any) -> bool:
    return hasattr(value, "tolist") and bool(getattr(value, "shape", ()))


def _is_single(value: Any) -> bool:
    return hasattr(value, "item") and getattr(value, "shape", None) == ()


def _is_masked(value: Any) -> bool:
    """Say whether a single value of an array is marked as missing: its number means nothing."""
    return hasattr(value, "filled") and bool(value.mask)


def _unit_text(units: Any) -> str:
    """Write the unit of another library's quantity, short where it can ("°C", "kPa")."""
    try:
        return format(units, "~")
    except (TypeError, ValueError):
        return str(units)


def _plain_number(value: Any) -> Any:
    if isinstance(value, complex):
        raise InputError(f"{value!r} is a complex number; a real number is wanted")
    if isinstance(value, int) and abs(value) < 2**53:
        return int(value)
    _refuse_what_is_no_number(value)
    try:
        number = float(value)
    except OverflowError:
        raise InputError(f"{_a_type(value)} as large as this cannot be an answer") from None
    except (TypeError, ValueError):
        raise InputError(f"{_a_type(value)} cannot be an answer; {_ACCEPTED}") from None
    return number if math.isfinite(number) else repr(number)


def _refuse_what_is_no_number(value: Any) -> None:
    if isinstance(value, (set, frozenset)):
        raise InputError("a set { } has no order and cannot be an answer; write a list [ ]")
    if callable(value) and (isinstance(value, type) or not hasattr(value, "__float__")):
        raise InputError("a function cannot be an answer; call it with ( ) to get its result")
    if isinstance(value, (bytes, bytearray, memoryview)):
        raise InputError(f"{_a_type(value)} cannot be an answer; {_ACCEPTED}")


def _a_type(value: Any) -> str:
    return f"a value of type {type(value).__name__[:40]}"


def make_record(question: str, value: Any, unit: Any, largest: int = LARGEST_RECORD_BYTES,
                ) -> dict[str, Any]:
    """Make the record of an answer [largest: characters].

    Raises InputError when it is too large or not plain.
    """
    try:
        record = {"question": plain(str(question)), "value": plain(value, largest=largest),
                  "unit": plain(unit)}
        size = len(json.dumps(record))
    except InputError:
        raise
    except Exception as error:  # the answer's own code can raise anything
        raise InputError(f"{_a_type(value)} cannot be an answer: reading it raised "
                         f"{type(error).__name__}; {_ACCEPTED}") from None
    if size > largest:
        raise InputError(f"the answer is larger than {largest:,} characters")
    return record


def read_record(line: str | bytes, sizes: Mapping[str, int] = {}) -> dict[str, Any]:  # noqa: B006
    """Read one untrusted record; raises InputError when it is not one.

    sizes [question → characters, of the questions whose answers may be larger than usual].
    """
    if len(line) > 4 * max([LARGEST_RECORD_BYTES, *sizes.values()]):
        raise InputError("an answer record is too large")
    try:
        record = json.loads(line, parse_constant=lambda word: str(word))
    except (ValueError, RecursionError):
        raise InputError("an answer record is not valid JSON") from None
    if not isinstance(record, dict) or not isinstance(record.get("question"), str):
        raise InputError("an answer record names no question")
    return make_record(record["question"], record.get("value"), record.get("unit"),
                       sizes.get(record["question"], LARGEST_RECORD_BYTES))
