"""A short hash that ties a shipped table to its own contents."""

import hashlib
import json


def fingerprint(table: dict) -> str:
    """Return the SHA-256 over a table without its own fingerprint, 16 hex digits.

    Parameters
    ----------
    table : dict
        JSON data.

    Returns
    -------
    str

    Examples
    --------
    >>> fingerprint({"a": 1}) == fingerprint({"a": 1, "fingerprint": "x"})
    True
    """
    body = {key: value for key, value in table.items() if key != "fingerprint"}
    text = json.dumps(body, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()[:16]
