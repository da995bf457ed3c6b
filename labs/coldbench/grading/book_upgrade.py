"""Bringing a gradebook of an older nbgrader up to this one's tables, as `nbgrader db upgrade` does.

nbgrader's own command cannot read an address with a `%` in it, and prints the password.
"""

import shutil
from datetime import datetime
from pathlib import Path
from typing import Any

from alembic.config import Config
from alembic.runtime.environment import EnvironmentContext
from alembic.script import ScriptDirectory
from nbgrader.api import Base
from nbgrader.dbutil import ALEMBIC_DIR
from sqlalchemy import inspect, text

from coldbench.errors import InputError
from coldbench.grading.book import VERSION_TABLE, schema_version
from coldbench.grading.database import make_engine, plain_database_errors, sqlite_file


def upgrade_gradebook(address: str) -> tuple[str, str, Path | None]:
    """Run nbgrader's own steps from a gradebook's version to the newest, in one transaction.

    Returns the version before, the newest one, and the copy that was made of a SQLite file; a
    gradebook of the newest version is left alone. Raises InputError when there is no such file
    or a step fails; the gradebook is then as it was.
    """
    file = sqlite_file(address)
    if file is not None and not file.is_file():
        raise InputError(f"there is no gradebook {file} to upgrade")
    script, before = ScriptDirectory(ALEMBIC_DIR), _version(address)
    if before == schema_version():
        return before, before, None
    copy = _copied(file) if file else None

    def steps(version: Any, context: Any) -> Any:
        return script._upgrade_revs("head", version)

    engine = make_engine(address, immediate=True)
    try:
        with plain_database_errors(address), engine.begin() as connection:
            with EnvironmentContext(Config(), script, fn=steps) as environment:
                environment.configure(connection=connection, target_metadata=Base.metadata)
                environment.run_migrations()
    finally:
        engine.dispose()
    return before, schema_version(), copy


def _version(address: str) -> str:
    """Version of a gradebook's tables; empty when it names none."""
    engine = make_engine(address)
    try:
        with plain_database_errors(address), engine.connect() as connection:
            if not inspect(connection).has_table(VERSION_TABLE):
                return ""
            found = connection.execute(text(f"SELECT version_num FROM {VERSION_TABLE}"))
            return ", ".join(found.scalars().all())
    finally:
        engine.dispose()


def _copied(file: Path) -> Path:
    copy = file.with_name(f"{file.name}.{datetime.now():%Y-%m-%d-%H%M%S}")
    shutil.copyfile(file, copy)
    return copy
