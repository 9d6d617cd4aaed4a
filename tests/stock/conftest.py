"""A ledger to test with, in SQLite and, where it is installed, in PostgreSQL."""

from __future__ import annotations

import getpass
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from nesting.catalogue import Range, load_range
from nesting.stock.ledger import Ledger, open_ledger

SERVER_USERS = ("postgres", "nobody")
"""Whom to run the server as when the tests run as root, which it refuses."""


def _program(name: str) -> Path | None:
    found = shutil.which(name)
    if found:
        return Path(found)
    places = sorted(Path("/usr/lib/postgresql").glob(f"*/bin/{name}"))
    return places[-1] if places else None


@pytest.fixture(scope="session")
def postgres() -> Iterator[str]:
    """URL of a PostgreSQL server of its own, reached by a socket in a temporary folder."""
    pytest.importorskip("psycopg", reason="psycopg is not installed (pip install 'nesting[postgres]')")
    initdb, pg_ctl = _program("initdb"), _program("pg_ctl")
    if sys.platform == "win32" or initdb is None or pg_ctl is None:
        pytest.skip("no PostgreSQL programs here (Debian: apt-get install postgresql)")
    user, prefix = getpass.getuser(), []
    if os.geteuid() == 0:
        import pwd

        known = {entry.pw_name for entry in pwd.getpwall()}
        user = next((name for name in SERVER_USERS if name in known), "")
        if not user or shutil.which("runuser") is None:
            pytest.skip("PostgreSQL does not run as root, and there is no other user to run it as")
        prefix = ["runuser", "-u", user, "--"]
    folder = Path(tempfile.mkdtemp(prefix="pg-", dir="/tmp"))  # short: names of sockets are limited
    try:
        if prefix:
            shutil.chown(folder, user)
        folder.chmod(0o755)
        data = folder / "data"

        def call(*words: object) -> None:
            command = [*prefix, *map(str, words)]
            subprocess.run(command, check=True, cwd=folder, stdout=subprocess.DEVNULL, timeout=120)

        try:
            call(initdb, "-D", data, "-A", "trust", "-U", "tester", "-E", "UTF8", "--no-sync")
            options = f"-c listen_addresses= -c unix_socket_directories={folder} -c fsync=off"
            call(pg_ctl, "-D", data, "-w", "-o", options, "-l", folder / "log", "start")
        except subprocess.SubprocessError as error:
            pytest.skip(f"PostgreSQL could not be started: {error}")
        try:
            yield f"postgresql://tester@/postgres?host={folder}"
        finally:
            call(pg_ctl, "-D", data, "-w", "-m", "immediate", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture
def fresh_postgres(postgres: str) -> str:
    """The server's database without any tables."""
    from sqlalchemy import create_engine, text

    engine = create_engine(postgres.replace("postgresql:", "postgresql+psycopg:"))
    with engine.begin() as connection:
        connection.execute(text("DROP SCHEMA public CASCADE"))
        connection.execute(text("CREATE SCHEMA public"))
    engine.dispose()
    return postgres


@pytest.fixture(params=["sqlite", "postgres"])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Where a ledger may be begun."""
    if request.param == "sqlite":
        return str(tmp_path / "stock.db")
    return str(request.getfixturevalue("fresh_postgres"))


@pytest.fixture
def ledger(place: str) -> Iterator[Ledger]:
    """An empty ledger, used by somebody called Ann."""
    with open_ledger(place, who="Ann", create=True) as opened:
        yield opened


@pytest.fixture(scope="session")
def demo_range(patterns: Path) -> Range:
    """The range of the invented bed maker."""
    return load_range(patterns / "demo-range.toml")
