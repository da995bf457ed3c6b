"""Records: an answer as plain data, small enough to travel and safe to read.

Whatever a learner's notebook sends is untrusted. `plain` makes an answer plain on the way
out, `read_record` checks one on the way in; both keep to the same limits.
"""

import json
import math
from typing import Any

from coldbench.errors import InputError

LARGEST_RECORD_BYTES = 20_000
DEEPEST = 6
UNANSWERED = "unanswered"


def is_blank(value: Any) -> bool:
    """Say whether a value stands for "not answered yet": `...`, None or blank text.

    >>> is_blank(...), is_blank("  "), is_blank(0.0)
    (True, True, False)
    """
    return value is None or value is Ellipsis or (isinstance(value, str) and not value.strip())


def plain(value: Any, depth: int = DEEPEST) -> Any:
    """Turn an answer into plain JSON data: text, number, list or table of those.

    Number-like objects of other libraries become numbers; a quantity with `magnitude` and
    `units` becomes text such as "5 K". Raises InputError for anything else.

    >>> plain((1, 2.5, "dew"))
    [1, 2.5, 'dew']
    """
    if depth == 0:
        raise InputError(f"the answer is nested more than {DEEPEST} levels deep")
    if value is None or value is Ellipsis or isinstance(value, (str, bool)):
        return None if value is Ellipsis else value
    if isinstance(value, dict):
        return {str(key): plain(item, depth - 1) for key, item in value.items()}
    if isinstance(value, (list, tuple)) or (hasattr(value, "tolist") and getattr(value, "shape", ())):
        return [plain(item, depth - 1) for item in value]
    if hasattr(value, "magnitude") and hasattr(value, "units"):
        return f"{float(value.magnitude)!r} {value.units}"
    return _plain_number(value)


def _plain_number(value: Any) -> Any:
    if isinstance(value, complex):
        raise InputError(f"{value!r} is a complex number; a real number is wanted")
    if isinstance(value, int) and abs(value) < 2**53:
        return value
    try:
        number = float(value)
    except (TypeError, ValueError, OverflowError):
        raise InputError(
            f"a value of type {type(value).__name__} cannot be an answer; accepted are a number, "
            "text, a list or a table of those"
        ) from None
    return number if math.isfinite(number) else repr(number)


def make_record(question: str, value: Any, unit: Any) -> dict[str, Any]:
    """Make the record of an answer; raises InputError when it is too large or not plain."""
    record = {"question": str(question), "value": plain(value), "unit": plain(unit)}
    if len(json.dumps(record)) > LARGEST_RECORD_BYTES:
        raise InputError(f"the answer is larger than {LARGEST_RECORD_BYTES:,} characters")
    return record


def read_record(line: str | bytes) -> dict[str, Any]:
    """Read one untrusted record; raises InputError when it is not one."""
    if len(line) > 4 * LARGEST_RECORD_BYTES:
        raise InputError("an answer record is too large")
    try:
        record = json.loads(line, parse_constant=lambda word: str(word))
    except (ValueError, RecursionError):
        raise InputError("an answer record is not valid JSON") from None
    if not isinstance(record, dict) or not isinstance(record.get("question"), str):
        raise InputError("an answer record names no question")
    return make_record(record["question"], record.get("value"), record.get("unit"))
