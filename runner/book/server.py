"""The connection to the shared book, its settings, and its set-up.

``book.yaml`` in the data folder:

    server: host=book.example dbname=steplatch user=bay-1 sslmode=verify-full sslrootcert=ca.pem
    personal: none        # or: car, then the registration goes too, so that a car is known again

``user`` is the bay's name. No password stands in it: libpq takes it from its password file.
"""

import contextlib
import logging
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal

from steplatch.safety.catalogue import _

from ..input.findings import BadFile
from ..input.strict_yaml import StrictModel, load_model
from ..record import DataFolder, RecordError
from .migrations import LOGIN, MIGRATIONS, ROLES, VERSION

if TYPE_CHECKING:
    from psycopg import Connection

FILE_NAME: Final = "book.yaml"
CONNECT_S: Final = 10
STATEMENT_MS: Final = 60_000
_REMEDY: Final = _("Nothing is lost: what was not sent is sent the next time")


class BookFile(StrictModel):
    """How this bay reaches the shared book, and what of personal data goes there."""

    server: str
    personal: Literal["none", "car"] = "none"


class NoServer(RecordError):  # noqa: N818 - the name says the fact
    """The shared book cannot be reached or used."""


def load_book_file(data: DataFolder) -> BookFile:
    """The settings. Raises BadFile; NoServer where there are none."""
    path = data.path / FILE_NAME
    if not path.exists():
        raise NoServer(
            str(path), _("this bay has no shared book"), _("Write the file; see the manual")
        )
    file, document = load_model(path, BookFile)
    if problem := unsafe(file.server):
        raise BadFile(
            [document.finding(("server",), problem, _("Write it as in runner/book/README"))]
        )
    return file


def unsafe(dsn: str) -> str:
    """Why a connection is not used; '' where nothing is against it."""
    from_text = _driver().conninfo.conninfo_to_dict
    try:
        parts = from_text(dsn)
    except _driver().Error:
        return _("it is no connection text of libpq")
    if "password" in parts:
        return _("a password stands in it: use libpq's password file")
    hosts = str(parts.get("host") or "").split(",")
    local = all(host.startswith("/") for host in hosts)
    if not local and parts.get("sslmode") != "verify-full":
        return _("over a network only sslmode=verify-full is used: else anybody may stand between")
    return ""


def _driver() -> Any:
    try:
        import psycopg
        import psycopg.conninfo
    except ImportError as error:
        raise NoServer(
            "psycopg",
            _("the library is not there ({error})", error=error),
            _("pip install 'steplatch[book]'"),
        ) from None
    logging.getLogger("psycopg").setLevel(logging.CRITICAL)  # what it would say is raised, and said
    return psycopg


@contextlib.contextmanager
def connected(dsn: str) -> Iterator["Connection[Any]"]:
    """A connection to a book of this program's version. Raises NoServer, whatever the database or
    the network says: no value that was sent stands in its message."""
    driver = _driver()
    try:
        options = f"-c search_path=steplatch -c statement_timeout={STATEMENT_MS}"
        with driver.connect(dsn, connect_timeout=CONNECT_S, options=options) as connection:
            stands = version_of(connection)
            if stands != VERSION:
                raise NoServer(
                    _("the shared book"),
                    _(
                        "its version is {stands}, this program's is {version}",
                        stands=stands,
                        version=VERSION,
                    ),
                    _("Run serve-setup of the newer program, or update this one"),
                )
            yield connection
    except driver.Error as error:
        raise failed(error) from None


def failed(error: Any) -> NoServer:
    """An error of the driver, without the values that stood in it."""
    primary = getattr(getattr(error, "diag", None), "message_primary", None)
    return NoServer(_("the shared book"), str(primary or error).split("\n")[0][:200], _REMEDY)


def version_of(connection: "Connection[Any]") -> int:
    """The version of the book there; 0 where none was set up."""
    there = connection.execute("SELECT to_regclass('steplatch.book_version')").fetchone()
    if there is None or there[0] is None:
        return 0
    row = connection.execute("SELECT max(version) FROM steplatch.book_version").fetchone()
    return int(row[0]) if row is not None and row[0] is not None else 0


def set_up(dsn: str, upto: int = VERSION) -> tuple[int, int]:
    """Bring a database up to a version, step by step; gives the version before and after.

    Raises NoServer; a step that fails leaves the version before it.
    """
    driver = _driver()
    try:
        with driver.connect(dsn, connect_timeout=CONNECT_S) as connection:
            connection.execute("SELECT pg_advisory_xact_lock(1399803458)")
            before = version_of(connection)
            connection.commit()
            for number in range(before + 1, upto + 1):
                with connection.transaction():
                    connection.execute("SELECT pg_advisory_xact_lock(1399803458)")
                    if version_of(connection) != number - 1:
                        raise NoServer(
                            _("the shared book"), _("another set-up runs"), _("Run it again")
                        )
                    connection.execute(MIGRATIONS[number - 1])
                    connection.execute(
                        "INSERT INTO steplatch.book_version (version) VALUES (%s)", (number,)
                    )
            return before, version_of(connection)
    except driver.Error as error:
        raise failed(error) from None


def add_login(dsn: str, name: str, role: str) -> None:
    """A login role that may do what ``role`` may: bay, office or auditor. Raises NoServer."""
    driver = _driver()
    from psycopg import sql

    group = dict(zip(("bay", "office", "auditor"), ROLES, strict=True))[role]
    text = sql.SQL(LOGIN).format(
        name=sql.Identifier(name), role=sql.Identifier(group), text=sql.Literal(name)
    )
    try:
        with driver.connect(dsn, connect_timeout=CONNECT_S) as connection:
            connection.execute(text)
    except driver.Error as error:
        raise failed(error) from None


def run_on(connection: "Connection[Any]") -> Any:
    """Runs SQL with ``?`` for each value there, as the questions are written."""

    def run(text: str, values: Sequence[Any] = ()) -> list[tuple[Any, ...]]:
        cursor = connection.execute(text.replace("?", "%s"), values)
        return cursor.fetchall() if cursor.description else []

    return run


def own_path(data: DataFolder) -> Path:
    """Where what the server confirmed to have erased is written down."""
    return data.path / "book-erased.jsonl"
