"""The reference page of bench files, made from the rules of the reader.

`python -m coldbench.bench.reference_page` writes it to `labs/guides/bench-file.md`.
"""

from pathlib import Path

from coldbench.bench import describe
from coldbench.bench import tables as t
from coldbench.bench.describe import NEEDED, Entry, Table
from coldbench.electrical import shipped_circuits
from coldbench.electrical.kinds import KINDS
from coldbench.sensing import load_sensors

PAGE = Path(__file__).parents[2] / "guides" / "bench-file.md"
_START = """# Bench files: every table and key

This page is made from the rules by which bench files are read
(`python -m coldbench.bench.reference_page`), so the two cannot disagree. How to write a file of
your own, step by step: [Describe your own bench](describe-your-own-bench.md).

A bench file is [TOML](https://toml.io), in UTF-8, and ends in `.toml`. The same rules stand as
JSON Schema in `labs/coldbench/bench/schema/bench.schema.json`, which many editors can use.
`coldbench bench check FILE` explains every mistake with file, key and reason.

- Keys end in their unit: `ambient_degC = 32.0`. Pressures are gauge pressures. A share is a number
  from 0 to 1.
- `[name]` is one table; `[[name]]` is written once for each entry; `[name."of yours"]` is a table
  under a name of your own.
- A key without a default must be there. With `like = "blue"` everything the file does not say is
  taken from that bench; lists such as `[[fan]]` are replaced whole.
"""
_HEADS = {"": "[{}]", "list": "[[{}]]", "named": "[{}.<name>]"}


def reference_page() -> str:
    """Return the page [str, Markdown].

    Examples
    --------
    >>> reference_page().splitlines()[0]
    '# Bench files: every table and key'
    """
    parts = [_START, "## Above all tables\n\n" + _table(describe.top())]
    for one in describe.described():
        parts.append(_section(one))
        if one.name == "part":
            parts.append(_kinds())
        if one.name == "symptom":
            parts.append(_conditions())
    parts.append(_words())
    return "\n".join(parts)


def _section(one: Table) -> str:
    head = _HEADS[one.many].format(one.name)
    needed = " A file that is not `like` another must have it." if one.needed else ""
    return f"## `{head}`\n\n{one.about}{needed}\n\n{_table(one.entries)}"


def _table(entries: tuple[Entry, ...]) -> str:
    rows = ["| key | takes | default | meaning |", "|---|---|---|---|"]
    rows += [f"| `{one.key}` | {takes(one.schema, one.unit)} | {_default(one)} | {one.meaning} |"
             for one in entries]
    return "\n".join(rows) + "\n"


def _default(one: Entry) -> str:
    if one.default is NEEDED:
        return "needed"
    if one.default in ("", "-"):
        return "none"
    if isinstance(one.default, list):
        return "all" if len(one.default) > 5 else ", ".join(f"`{v}`" for v in one.default) or "none"
    if one.default == {}:
        return "none"
    return f"`{_toml(one.default)}`"


def _toml(value) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    return f'"{value}"' if isinstance(value, str) else f"{value:g}"


def takes(schema: dict, unit: str = "") -> str:
    """Return in words what a key takes.

    Parameters
    ----------
    schema : dict
        JSON Schema of the entry.
    unit : str
        Of its numbers.

    Returns
    -------
    str

    Examples
    --------
    >>> takes({"type": "number", "minimum": 5, "maximum": 50}, "degC")
    'number, 5 to 50 degC'
    """
    if "const" in schema:
        return f'`"{schema["const"]}"`'
    if "enum" in schema:
        return "one of " + ", ".join(f"`{value}`" for value in schema["enum"])
    if "anyOf" in schema:
        return " or ".join(takes(one, unit) for one in schema["anyOf"])
    kind = schema.get("type")
    if kind == "array":
        items = schema["items"]
        if schema.get("maxItems") == 2:
            return f"[x, row], each a {takes(items, unit)}"
        inner = "tables, see below" if items.get("type") == "object" else takes(items, unit)
        return f"list, each {inner}"
    if kind == "object":
        each = schema.get("additionalProperties") or next(iter(schema["properties"].values()))
        return f"table: name = {'anything' if each is True else takes(each, unit)}"
    if kind in ("number", "integer"):
        return ("whole number" if kind == "integer" else "number") + _range(schema, unit)
    return {"boolean": "`true` or `false`", "string": "text"}[kind]


def _range(schema: dict, unit: str) -> str:
    low, high = schema.get("minimum"), schema.get("maximum")
    shown = "" if unit == "share" else unit.replace("_per_", "/")
    if low is None and high is None:
        return ""
    if high is None or high >= 1e9:
        return f", {low:g} {shown}".rstrip() + " or more"
    if low is None:
        return f", {high:g} {shown}".rstrip() + " or less"
    return f", {low:g} to {high:g} {shown}".rstrip()


def _conditions() -> str:
    return ("Each table in `when` has these keys. `coldbench bench show NAME` lists the readings "
            "of a bench; beside them are `tp 12` for test point 12, in V, and `code B1103`.\n\n" + _table(describe.entries_of(t.Condition)))


def _kinds() -> str:
    rows = ["Kinds of part, their terminals, their keys (a default stands in brackets) and the "
            "ways they fail:\n", "| kind | what it is | terminals | keys | faults |",
            "|---|---|---|---|---|"]
    for name, kind in KINDS.items():
        keys = "; ".join(f"`{one.key}` {takes(one.schema, one.unit)}"
                         + ("" if one.default is NEEDED else f" ({_toml(one.default)})")
                         for one in describe.part_entries(name))
        if kind.input:
            keys += f"; `input`, a {'switch' if kind.input == 'switch' else 'duty from 0 to 1'}"
        rows.append(f"| `{name}` | {kind.words} | {', '.join(kind.terminals)} | {keys} | "
                    f"{', '.join(f'`{mode}`' for mode in kind.modes)} |")
    return "\n".join(rows) + "\n"


def _words() -> str:
    sensors = "\n".join(f"- `{one.name}`: {one.label}" for one in load_sensors().values())
    circuits = ", ".join(f"`{name}`" for name in shipped_circuits())
    return (f"## Shipped circuits\n\nFor `file` in `[[circuit]]`: {circuits}. "
            "`coldbench circuit NAME --draw FILE.svg` draws one.\n\n"
            f"## Shipped sensors\n\nFor `sensor` in `[[input]]`:\n\n{sensors}\n")


def main() -> None:
    """Write the page."""
    PAGE.parent.mkdir(exist_ok=True)
    PAGE.write_text(reference_page(), encoding="utf-8")


if __name__ == "__main__":
    main()
