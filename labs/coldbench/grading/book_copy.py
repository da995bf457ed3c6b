"""Moving a gradebook: every row of one into another database, compared before it counts."""

from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from nbgrader.api import Base
from sqlalchemy import Connection, Table, func, select

from coldbench.errors import InputError
from coldbench.grading.book import COURSE, Book
from coldbench.grading.database import plain_database_errors, spoken_address, sqlite_file

ROWS_AT_ONCE = 1_000


def copy_gradebook(source: str, target: str, replace: bool = False) -> dict[str, int]:
    """Copy a gradebook into another database.

    source, target [database addresses]; replace [True: what the target holds is deleted first].
    The source is read as it is at one moment; the target gets all rows in one transaction, which
    ends only after every table was read back and compared. Returns the rows of each table.
    Raises InputError when the source is missing, the target holds marks and may not be
    replaced, both are the same, or a row cannot be stored.
    """
    if spoken_address(source) == spoken_address(target):
        raise InputError("the two gradebooks are one and the same; name two different ones")
    file = sqlite_file(source)
    if file is not None and not file.is_file():
        raise InputError(f"there is no gradebook {file} to copy")
    with _connected(source, "REPEATABLE READ") as old, _connected(target) as new:
        held = sum(_count(new, table) for table in tables())
        if held > _count_empty(new) and not replace:
            raise InputError(f"the gradebook {spoken_address(target)} is not empty ({held} rows); "
                             "add --replace to delete what it holds, or name an empty database")
        for table in reversed(tables()):
            new.execute(table.delete())
        return {table.name: _copy_table(old, new, table) for table in tables()}


def tables() -> list[Table]:
    """The gradebook's tables, each after those it refers to."""
    return Base.metadata.sorted_tables


def count_rows(address: str) -> dict[str, int]:
    """Count the rows of a gradebook's tables."""
    with _connected(address) as connection:
        return {table.name: _count(connection, table) for table in tables()}


@contextmanager
def _connected(address: str, isolation: str | None = None) -> Iterator[Connection]:
    """Connect to a gradebook in one transaction, rolled back unless all went well."""
    with Book(address) as book, plain_database_errors(address):
        options = {"isolation_level": isolation} if isolation and not sqlite_file(address) else {}
        with book.engine.connect().execution_options(**options) as connection:
            with connection.begin():
                yield connection


def _count(connection: Connection, table: Table) -> int:
    return connection.execute(select(func.count()).select_from(table)).scalar_one()


def _count_empty(connection: Connection) -> int:
    """Rows that an empty gradebook holds: that of its course."""
    course = Base.metadata.tables["course"]
    return connection.execute(select(func.count()).where(course.c.id == COURSE)).scalar_one()


def _copy_table(old: Connection, new: Connection, table: Table) -> int:
    rows = old.execute(select(table)).mappings()
    seen: Counter[tuple[Any, ...]] = Counter()
    for part in rows.partitions(ROWS_AT_ONCE):
        new.execute(table.insert(), [dict(row) for row in part])
        seen.update(tuple(row.values()) for row in part)
    kept = Counter(tuple(row) for row in new.execute(select(table)))
    if kept != seen:
        raise InputError(f"the table {table.name} did not arrive whole ({seen.total()} rows were "
                         f"read, {(kept & seen).total()} of them are the same in the copy); "
                         "nothing was changed in the target")
    return seen.total()
