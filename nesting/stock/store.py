"""Opening a stock ledger, and its transactions: whole or not at all, one writer at a time.

SQLite: a writing transaction takes the file's write lock at once (``BEGIN IMMEDIATE``) and waits for
others. PostgreSQL: rows that will be changed are locked (``SELECT ... FOR UPDATE``).
"""

from __future__ import annotations

import datetime
import getpass
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, inspect, select, text
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError, DatabaseError, OperationalError, SQLAlchemyError

from nesting import __version__
from nesting.errors import NestingError
from nesting.measures import reworded
from nesting.stock import tables

__all__ = ["DEFAULT_FILE", "StockError", "Store", "now", "open_store", "tidy", "where_is"]

DEFAULT_FILE = "stock.db"
PLACE_VARIABLE = "NESTING_LEDGER"
WHO_VARIABLE = "NESTING_WHO"

MAX_WHO = 80
"""Most characters of a name."""

PATIENCE = 20.0
"""Seconds to wait for others who are writing."""

_WRITING = "nesting_writing"
_CREATION_LOCK = 0x6E657374
"""PostgreSQL advisory lock held while tables are made, so that two first users do not collide."""


class StockError(NestingError):
    """The ledger cannot be used, or what is asked of it cannot be true.

    The sentence speaks of millimetres; where the workshop reads inches, they are put before them.
    """

    def __init__(self, sentence: str) -> None:
        super().__init__(reworded(sentence))


def where_is(given: str | None) -> str:
    """The ledger meant: as given, by the environment variable NESTING_LEDGER, or stock.db here."""
    return given or os.environ.get(PLACE_VARIABLE) or DEFAULT_FILE


def now() -> str:
    """The present time as it is stored: ISO 8601, UTC."""
    return datetime.datetime.now(datetime.UTC).isoformat(timespec="seconds")


def _who(given: str | None) -> str:
    name = given or os.environ.get(WHO_VARIABLE)
    if not name:
        try:
            name = getpass.getuser()
        except (OSError, KeyError, ImportError):  # no such user in the system's list
            name = "unknown"
    return tidy(name, MAX_WHO) or "unknown"


def tidy(text: str, most: int) -> str:
    """Text on one line, without what cannot be printed, cut off after so many characters."""
    return " ".join("".join(letter if letter.isprintable() else " " for letter in text).split())[:most]


class Store:
    """An open ledger.

    Parameters
    ----------
    engine
        The database.
    name
        What to call it in messages; holds no password.
    who
        Who makes the changes.
    """

    def __init__(self, engine: Engine, name: str, who: str) -> None:
        self.engine, self.name, self.who = engine, name, who

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A transaction that sees one state and changes nothing."""
        with self._told(), self.engine.connect() as connection, connection.begin():
            if connection.dialect.name == "postgresql":
                connection.execute(text("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY"))
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """A transaction that is kept whole when the block ends, and dropped whole when it raises."""
        with self._told(), self.engine.connect() as connection:
            connection.execution_options(**{_WRITING: True})
            with connection.begin():
                if connection.dialect.name == "postgresql":
                    connection.execute(text(f"SET LOCAL lock_timeout = '{int(PATIENCE)}s'"))
                yield connection

    def close(self) -> None:
        """Let go of the database."""
        self.engine.dispose()

    @contextmanager
    def _told(self) -> Iterator[None]:
        try:
            yield
        except SQLAlchemyError as error:
            raise _in_words(self.name, error) from error


def open_store(where: str | None = None, *, who: str | None = None, create: bool = False) -> Store:
    """Open a ledger.

    Parameters
    ----------
    where
        Path of a SQLite file, or the URL of a PostgreSQL database (``postgresql://user@host/name``);
        None: see `where_is`.
    who
        Who makes changes; None: the environment variable NESTING_WHO, or the user of the computer.
    create
        Make the tables when there are none.

    Raises
    ------
    StockError
        When there is no such ledger, it is none of ours, or a newer program wrote it.
    """
    where = where_is(where)
    url, name = _url(where)
    if url.get_backend_name() == "sqlite":
        path = Path(url.database or "")
        if path.is_dir():
            raise StockError(f"{name} is a folder. Give the file of the ledger, such as {name}/stock.db.")
        if not path.exists():
            if not create:
                raise StockError(
                    f"There is no stock ledger {name}. Begin one with 'nesting stock take-in', or say where "
                    f"it is with --ledger or {PLACE_VARIABLE}."
                )
            if not path.absolute().parent.is_dir():
                raise StockError(f"There is no folder {path.absolute().parent} to keep {path.name} in.")
    store = Store(_engine(url, name), name, _who(who))
    try:
        _check(store, create)
    except BaseException:
        store.close()
        raise
    return store


def _url(where: str) -> tuple[URL, str]:
    """Where it is as a URL for the library, and as a name for messages."""
    scheme, separator, _ = where.partition("://")
    if not separator:
        return URL.create("sqlite", database=where), where
    try:
        url = make_url(where)
    except (ArgumentError, ValueError):  # the latter of a port that is no number
        raise StockError(f"{scheme}://...: not the URL of a database. {_ALLOWED}") from None
    name = url.render_as_string(hide_password=True)
    backend = url.drivername.split("+")[0]
    if backend in ("postgresql", "postgres"):
        return url.set(drivername="postgresql+psycopg"), name
    if backend == "sqlite" and url.database:
        return url, url.database
    raise StockError(f"{name}: this database is not supported. {_ALLOWED}")


_ALLOWED = "Give the path of a file, or postgresql://USER@HOST/DATABASE."


def _engine(url: URL, name: str) -> Engine:
    if url.get_backend_name() == "sqlite":
        engine = create_engine(url, connect_args={"timeout": PATIENCE})
        event.listen(engine, "connect", _on_sqlite_connect)
        event.listen(engine, "begin", _on_sqlite_begin)
        return engine
    try:
        return create_engine(url, connect_args={"connect_timeout": int(PATIENCE)})
    except ImportError:
        raise StockError(
            f'{name}: PostgreSQL needs one more package: pip install "nesting[postgres]".'
        ) from None


def _on_sqlite_connect(connection: Any, _: object) -> None:
    connection.isolation_level = None  # the library must not begin transactions of its own: see below
    connection.execute("PRAGMA foreign_keys = ON")


def _on_sqlite_begin(connection: Connection) -> None:
    writing = connection.get_execution_options().get(_WRITING)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writing else "BEGIN")


def _check(store: Store, create: bool) -> None:
    with store.reading() as connection:
        found = set(inspect(connection).get_table_names())
        version = _version(connection, found)
    if version is None and create:
        with store.writing() as connection:
            if connection.dialect.name == "postgresql":
                connection.execute(text(f"SELECT pg_advisory_xact_lock({_CREATION_LOCK})"))
            found = set(inspect(connection).get_table_names())
            version = _version(connection, found)
            if version is None:
                if found and connection.dialect.name == "sqlite":
                    raise StockError(f"{store.name} is a database of another program. Choose another file.")
                tables.metadata.create_all(connection)
                entries = {"schema": str(tables.SCHEMA), "program": __version__, "made": now()}
                connection.execute(
                    tables.about.insert(), [{"key": key, "value": value} for key, value in entries.items()]
                )
                return
    if version is None:
        raise StockError(f"{store.name} holds no stock ledger. Begin one with 'nesting stock take-in'.")
    if version > tables.SCHEMA:
        raise StockError(
            f"{store.name} was written by a newer version of this program (its tables are version {version}, "
            f"this program knows up to {tables.SCHEMA}). Nothing was changed. Bring this program up to date."
        )


def _version(connection: Connection, found: set[str]) -> int | None:
    if tables.about.name not in found:
        return None
    value = connection.execute(
        select(tables.about.c.value).where(tables.about.c.key == "schema")
    ).scalar_one_or_none()
    if value is None or not value.isdigit():
        raise StockError("The ledger does not say which version its tables are: take the last good copy.")
    return int(value)


def _in_words(name: str, error: SQLAlchemyError) -> StockError:
    said = str(getattr(error, "orig", None) or error).strip().partition("\n")[0]
    low = said.casefold()
    if "not a database" in low:
        return StockError(f"{name} is no stock ledger. Choose another file.")
    if "malformed" in low:
        return StockError(f"{name} is damaged ({said}). Nothing was changed: go back to the last good copy.")
    if any(word in low for word in ("database is locked", "lock timeout", "deadlock", "could not serialize")):
        return StockError(f"{name} is in use by others. Nothing was changed: try again in a moment.")
    if "unique" in low or "duplicate key" in low:
        return StockError(f"Somebody else just used the same id in {name}. Nothing was changed: try again.")
    if "readonly" in low or "unable to open" in low or "permission denied" in low:
        return StockError(f"{name} cannot be written or opened ({said}). Ask for access, or choose another.")
    if "disk is full" in low or "disk i/o" in low:
        return StockError(f"{name}: {said}. Nothing was changed: make room and try again.")
    if isinstance(error, OperationalError | DatabaseError):
        return StockError(f"{name}: the database says: {said}. Nothing was changed.")
    return StockError(f"{name}: {said}. Nothing was changed.")
