"""Where a gradebook is kept: addresses of SQLite files and PostgreSQL databases.

A password in an address is used to connect and for nothing else: it is never shown or written.
"""

import os
import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from coldbench.errors import InputError

VARIABLE = "COLDBENCH_GRADEBOOK"
DEFAULT_FILE = "gradebook.db"
EXAMPLE = "postgresql://grader@db.example/coldbench"
SQLITE = "sqlite:///"
_DRIVER = "postgresql+psycopg"
_SECRET_WORDS = ("password", "passfile", "sslpassword")


def database_address(text: str, folder: Path) -> str:
    """Make a full database address.

    text [a PostgreSQL or SQLite address, or the path of a SQLite file; empty: the file
    `gradebook.db`]; folder [where relative paths start]. Raises InputError for another kind of
    database or an address that cannot be read.

    >>> database_address("", Path("/course/autograde"))
    'sqlite:////course/autograde/gradebook.db'
    >>> database_address("postgresql://ann@db/marks", Path("/course"))
    'postgresql+psycopg://ann@db/marks'
    """
    if "://" not in text:
        return f"{SQLITE}{folder / (text or DEFAULT_FILE)}"
    kind = text.partition("://")[0].partition("+")[0]
    if kind in ("postgresql", "postgres"):
        url = _parsed(text).set(drivername=_DRIVER)
        return url.render_as_string(hide_password=False)
    if kind != "sqlite":
        raise InputError(f"a gradebook cannot be kept in {kind!r}; accepted are the path of a "
                         f"SQLite file and an address such as {EXAMPLE}")
    name = _parsed(text).database
    if not name or name == ":memory:":
        raise InputError(f"the address {text!r} names no file for the gradebook")
    return f"{SQLITE}{folder / name}"


def _parsed(text: str):
    from sqlalchemy.engine import make_url
    from sqlalchemy.exc import ArgumentError

    try:
        return make_url(text)
    except (ArgumentError, ValueError):
        raise InputError("the gradebook's address cannot be read; it looks like "
                         f"{EXAMPLE}, with % signs and other special characters of a password "
                         "written as %25 and so on") from None


def sqlite_file(address: str) -> Path | None:
    """The file of a SQLite gradebook; None for another database."""
    return Path(address.removeprefix(SQLITE)) if address.startswith(SQLITE) else None


def spoken_address(address: str) -> str:
    """An address as it may be shown: without password, without the driver's name.

    >>> spoken_address("postgresql+psycopg://ann:secret@db/marks?sslpassword=x")
    'postgresql://ann:***@db/marks'
    """
    if file := sqlite_file(address):
        return str(file)
    url = _parsed(address)
    shown = url.set(drivername=url.get_backend_name()).difference_update_query(_SECRET_WORDS)
    return shown.render_as_string(hide_password=True)


def _secrets(address: str) -> list[str]:
    if sqlite_file(address):
        return []
    url = _parsed(address)
    found = [url.password, *(url.query.get(word) for word in _SECRET_WORDS),
             os.environ.get("PGPASSWORD")]
    return [str(secret) for secret in found if secret]


def without_secrets(text: str, address: str) -> str:
    """Take every password of an address out of a text."""
    for secret in _secrets(address):
        text = text.replace(secret, "***")
    return re.sub(r"\s+", " ", text).strip()


@contextmanager
def plain_database_errors(address: str) -> Iterator[None]:
    """Turn any trouble with a database into an InputError of one sentence."""
    from sqlalchemy.exc import SQLAlchemyError

    try:
        yield
    except SQLAlchemyError as error:
        raise InputError(trouble(error, address)) from None


def trouble(error: BaseException, address: str) -> str:
    """Say in one sentence what a database's error means and what to do."""
    cause = getattr(error, "orig", None) or error
    lines = str(cause).strip().splitlines() or [type(cause).__name__]
    reason = without_secrets(lines[0], address).rstrip(".")
    name = f"the gradebook {spoken_address(address)}"
    if "disk is full" in reason or "No space left" in reason:
        return (f"the disk is full: {name} could not be written, and is as it was before this "
                "submission; make room, then run the command again")
    if "is locked" in reason:
        return (f"{name} is held by another program ({reason}); wait until that is done, or "
                "close it, then run the command again")
    if "not a database" in reason or "malformed" in reason:
        return (f"{name} is damaged and cannot be read ({reason}); put back a copy of it, or move "
                "it away: a new one is made, and `coldbench grade --force` fills it, without marks "
                "given by hand")
    return f"{name} cannot be used: {reason}"


def make_engine(address: str, immediate: bool = False):
    """Make the database engine for an address [immediate: take SQLite's write lock at once].

    SQLite: every transaction is ours, tables too; a writer waits 30 s for another. Raises
    InputError when the PostgreSQL driver is not installed.
    """
    from sqlalchemy import create_engine, event

    if sqlite_file(address) is None:
        try:
            return create_engine(address, pool_pre_ping=True, connect_args={
                "connect_timeout": 10, "application_name": "coldbench",
                # A database without an encoding of its own would answer with bytes.
                "client_encoding": "utf8"})
        except ImportError:
            raise InputError("a gradebook in PostgreSQL needs the package psycopg: "
                             "pip install 'coldbench[postgresql]'") from None
    engine = create_engine(address, connect_args={"timeout": 30})

    @event.listens_for(engine, "connect")
    def _own_transactions(connection, record):
        connection.isolation_level = None  # Python's own rules leave tables out of transactions

    @event.listens_for(engine, "begin")
    def _begin(connection):
        connection.exec_driver_sql("BEGIN IMMEDIATE" if immediate else "BEGIN")

    return engine
