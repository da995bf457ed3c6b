"""nbgrader's gradebook with whole transactions: all of a submission is in it, or nothing."""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from functools import cache
from typing import Any

from nbgrader.api import (
    Assignment, Base, Comment, Grade, Gradebook, InvalidEntry, SubmittedAssignment, SubmittedNotebook,
)
from nbgrader.preprocessors import NbGraderPreprocessor, SaveAutoGrades
from sqlalchemy import Connection, inspect, text
from sqlalchemy.exc import SQLAlchemyError
from sqlalchemy.orm import Session, scoped_session, sessionmaker

from coldbench.errors import InputError
from coldbench.grading.database import (
    make_engine, plain_database_errors, spoken_address, trouble,
)

COURSE = "default_course"  # what nbgrader's commands and form use
VERSION_TABLE = "alembic_version"
_HELD = "held"


class _Session(Session):
    """A session whose commits wait for the end of `Book.transaction`."""

    def commit(self) -> None:
        if self.info.get(_HELD):
            self.flush()
        else:
            super().commit()


class Book(Gradebook):
    """A gradebook at an address, made if there is none.

    address [database address]; immediate [take SQLite's write lock at a transaction's start].
    Raises InputError when the database cannot be used or is of another schema.
    """

    def __init__(self, address: str, immediate: bool = False):
        self.address = address
        self.engine = make_engine(address, immediate)
        self.db = scoped_session(sessionmaker(bind=self.engine, class_=_Session))
        self.course_id, self.authenticator = COURSE, None
        try:
            with plain_database_errors(address):
                with self.engine.begin() as connection:
                    prepare(connection, address)
                self.check_course(COURSE)
        except BaseException:
            self.close()
            raise

    def __exit__(self, kind: Any, error: BaseException | None, traceback: Any) -> None:
        """Close; a database's own error becomes one sentence."""
        self.close()
        if isinstance(error, SQLAlchemyError):
            raise InputError(trouble(error, self.address)) from None

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """Do everything inside in one transaction, whatever nbgrader commits meanwhile."""
        session = self.db()
        session.info[_HELD] = True
        try:
            with plain_database_errors(self.address):
                yield
                session.info[_HELD] = False
                session.commit()
        except InvalidEntry as error:
            session.rollback()
            # nbgrader hides the database's own error behind this one.
            raise InputError(trouble(error.__context__ or error, self.address)) from None
        except BaseException:
            session.rollback()
            raise
        finally:
            session.info[_HELD] = False

    def hold_learner(self, learner: str) -> None:
        """Let two programs that write one learner's marks go one after the other."""
        if self.engine.dialect.name == "postgresql":
            hold(self.db.connection(), f"learner {learner}")

    def grades_of(self, lab: str, learner: str) -> list[Grade]:
        """A submission's grades, locked until the transaction ends."""
        return (self.db.query(Grade)
                .join(SubmittedNotebook, SubmittedNotebook.id == Grade.notebook_id)
                .join(SubmittedAssignment,
                      SubmittedAssignment.id == SubmittedNotebook.assignment_id)
                .join(Assignment, Assignment.id == SubmittedAssignment.assignment_id)
                .filter(Assignment.name == lab, SubmittedAssignment.student_id == learner)
                .order_by(Grade.id).populate_existing().with_for_update(of=Grade).all())


class _AtHand:
    """A notebook's grades and comments, read at once: nbgrader asks for each by a query."""

    def __init__(self, notebook: SubmittedNotebook):
        self._grades = {grade.name: grade for grade in notebook.grades}
        self._comments = {comment.name: comment for comment in notebook.comments}
        self.db = self

    def find_grade(self, name: str, *place: str) -> Grade:
        return self._grades[name]

    def find_comment(self, name: str, *place: str) -> Comment:
        return self._comments[name]

    def commit(self) -> None:
        """The book's transaction does this, for all of them together."""


class SaveMarks(SaveAutoGrades):
    """nbgrader's step that stores a graded notebook's scores, within a book's transaction."""

    def __init__(self, book: Book):
        super().__init__()
        self._book = book

    def preprocess(self, nb, resources):
        """Store the scores of every graded cell."""
        about = resources["nbgrader"]
        self.notebook_id = self.assignment_id = about["assignment"]
        self.student_id = about["student"]
        notebook = self._book.find_submission_notebook(
            self.notebook_id, self.assignment_id, self.student_id)
        self.gradebook = _AtHand(notebook)
        return NbGraderPreprocessor.preprocess(self, nb, resources)


def hold(connection: Connection, name: str) -> None:
    """Wait for, and hold until the transaction ends, a PostgreSQL lock of a given name."""
    connection.execute(text("SELECT pg_advisory_xact_lock(hashtext(:name))"),
                       {"name": f"coldbench {name}"})


@cache
def schema_version() -> str:
    """The newest version of the gradebook's tables that this nbgrader knows."""
    from alembic.script import ScriptDirectory
    from nbgrader.dbutil import ALEMBIC_DIR

    return ScriptDirectory(ALEMBIC_DIR).get_current_head()


def prepare(connection: Connection, address: str) -> None:
    """Make the tables of a gradebook in an empty database; check those of another.

    Raises InputError when the database holds other tables or is of another version.
    """
    names = set(inspect(connection).get_table_names())
    if not names and connection.dialect.name == "postgresql":
        hold(connection, "tables")  # two programs may find it empty at once
        names = set(inspect(connection).get_table_names())
    if not names:
        Base.metadata.create_all(connection)
        connection.execute(text(f"CREATE TABLE {VERSION_TABLE} (version_num VARCHAR(32) NOT NULL)"))
        connection.execute(text(f"INSERT INTO {VERSION_TABLE} VALUES (:version)"),
                           {"version": schema_version()})
        # In the same transaction: nbgrader adds it in one of its own, which two programs can meet.
        connection.execute(Base.metadata.tables["course"].insert().values(id=COURSE))
        return
    _check_tables(names, address)
    found = (connection.execute(text(f"SELECT version_num FROM {VERSION_TABLE}")).scalars().all()
             if VERSION_TABLE in names else [])
    if found != [schema_version()]:
        raise InputError(
            f"the gradebook {spoken_address(address)} was made by another version of nbgrader "
            f"(its tables are of version {', '.join(found) or 'unknown'}, this one writes "
            f"{schema_version()}); run `coldbench gradebook upgrade`")


def _check_tables(names: Iterable[str], address: str) -> None:
    if not {"assignment", "student", "grade"} <= set(names):
        raise InputError(f"the database {spoken_address(address)} is not a gradebook: it holds "
                         f"other tables ({', '.join(sorted(names)[:4])}); give the gradebook a "
                         "database of its own")
