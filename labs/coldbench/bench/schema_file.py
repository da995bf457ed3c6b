"""The JSON Schema of a bench file, made from the rules of the reader.

`python -m coldbench.bench.schema_file` writes it to `schema/bench.schema.json`. What only a
comparison can show (a wire to nowhere, thresholds that cross) the reader alone finds.
"""

import json
from importlib import resources
from pathlib import Path

from coldbench.bench import describe, rules
from coldbench.bench import tables as t
from coldbench.bench.describe import NEEDED, Entry, Table
from coldbench.electrical.kinds import KINDS

FILE = "bench.schema.json"


def bench_schema() -> dict:
    """Return the JSON Schema of a bench file.

    Returns
    -------
    dict
        Draft 2020-12. A file that is `like` another bench need not have what that bench has.

    Examples
    --------
    >>> bench_schema()["properties"]["clutch"]["properties"]["engage_A"]["maximum"]
    50
    """
    tables = describe.described()
    top = {one.key: _entry(one) for one in describe.top()}
    whole = {"required": [*(e.key for e in describe.top() if e.default is NEEDED),
                          *(one.name for one in tables if one.needed)],
             "properties": {one.name: _required(one) for one in tables if not one.many} | {
                 one.name: {"additionalProperties": _required(one)} for one in tables
                 if one.many == "named"}}
    return {"$schema": "https://json-schema.org/draft/2020-12/schema",
            "title": "Bench file", "type": "object", "additionalProperties": False,
            "properties": top | {one.name: _table(one) for one in tables},
            "if": {"required": ["like"]}, "then": {"required": ["name"]}, "else": whole}


def _entry(one: Entry) -> dict:
    told = {"description": one.meaning} if one.meaning else {}
    usual = {} if one.default is NEEDED or one.default in ("", "-") else {"default": one.default}
    return one.schema | told | usual


def _object(entries: tuple[Entry, ...]) -> dict:
    return {"type": "object", "additionalProperties": False,
            "properties": {one.key: _entry(one) for one in entries}}


def _required(table: Table) -> dict:
    return {"required": [one.key for one in table.entries if one.default is NEEDED]}


def _table(one: Table) -> dict:
    """A table, a list of tables, or tables under names of the file's own.

    Lists are replaced whole by a file that is like another, so their entries are complete; other
    tables are laid over those of the other file.
    """
    about = {"description": one.about}
    if one.name == "part":
        return {"type": "array", "items": {"oneOf": [_part(kind) for kind in KINDS]}} | about
    if one.many == "list":
        return {"type": "array", "items": _object(one.entries) | _required(one)} | about
    if one.name == "symptom":
        return {"type": "object", "additionalProperties": rules.schema(t.Symptom)} | about
    if one.many == "named":
        return {"type": "object", "additionalProperties": _object(one.entries)} | about
    return _object(one.entries) | about


def _part(kind: str) -> dict:
    common = [one for one in describe.described() if one.name == "part"][0].entries
    own = describe.part_entries(kind)
    kept = tuple(one for one in common if one.key != "input" or KINDS[kind].input)
    made = _object((*kept, *own))
    made["properties"]["kind"] = {"const": kind, "description": KINDS[kind].words}
    needed = [one.key for one in (*kept, *own) if one.default is NEEDED]
    return made | {"required": [*needed, *(["input"] if KINDS[kind].input else [])]}


def schema_text() -> str:
    """Return the schema as it stands in the file [str]."""
    return json.dumps(bench_schema(), indent=1, ensure_ascii=False) + "\n"


def main() -> None:
    """Write the schema file."""
    place = Path(str(resources.files("coldbench.bench").joinpath("schema", FILE)))
    place.write_text(schema_text(), encoding="utf-8")


if __name__ == "__main__":
    main()
