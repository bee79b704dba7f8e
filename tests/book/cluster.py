"""A PostgreSQL server of a test's own: a cluster in a temporary folder, on a unix socket alone."""

import contextlib
import os
import pwd
import shutil
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from tempfile import mkdtemp

import pytest

SUPER = "owner"
_FAST = ("fsync=off", "full_page_writes=off")
"""No machine crashes in a test; what the server has confirmed must outlive its own crash."""


def programs() -> Path | None:
    """The folder of the newest server's programs, on the path or as Debian lays them out."""
    if found := shutil.which("initdb"):
        return Path(found).resolve().parent
    rooms = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), reverse=True)
    return rooms[0].parent if rooms else None


@dataclass
class Cluster:
    """A running server; ``stop`` and ``start`` as often as wanted."""

    bin: Path
    room: Path
    user: str

    def _run(self, *words: str) -> None:
        as_other = ["setpriv", f"--reuid={self.user}", "--regid=nogroup", "--clear-groups"]
        before = as_other if os.geteuid() == 0 else []
        subprocess.run([*before, *words], check=True, capture_output=True, cwd=self.room,
                       env={"PATH": os.environ["PATH"], "LC_ALL": "C"})  # fmt: skip

    def make(self) -> None:
        """Make the cluster and start it."""
        self._run(str(self.bin / "initdb"), "-D", str(self.room / "db"), "-U", SUPER, "-A", "trust",
                  "-E", "UTF8", "--locale=C", "--no-sync")  # fmt: skip
        self.start()

    def start(self) -> None:
        """Start it and wait until it answers."""
        settings = " ".join(f"-c {one}" for one in (*_FAST, "listen_addresses=''"))
        self._run(str(self.bin / "pg_ctl"), "-D", str(self.room / "db"), "-w", "-l",
                  str(self.room / "log"), "-o", f"{settings} -k {self.room}", "start")  # fmt: skip

    def stop(self, how: str = "immediate") -> None:
        """Stop it; ``immediate`` is as a crash."""
        with contextlib.suppress(subprocess.CalledProcessError):
            self._run(str(self.bin / "pg_ctl"), "-D", str(self.room / "db"), "-m", how, "stop")

    def dsn(self, user: str = SUPER, database: str = "postgres") -> str:
        """What connects to it."""
        return f"host={self.room} user={user} dbname={database}"

    def dump(self) -> bytes:
        """Everything in it, as a backup would hold it."""
        done = subprocess.run(
            [str(self.bin / "pg_dump"), "-h", str(self.room), "-U", SUPER, "postgres"],
            check=True, capture_output=True,
        )  # fmt: skip
        return done.stdout

    def log(self) -> bytes:
        """What it has logged."""
        return (self.room / "log").read_bytes()


def _somebody() -> str:
    """Who the server runs as: this user, or where that is root another one, since it refuses."""
    if os.geteuid() != 0:
        return pwd.getpwuid(os.geteuid()).pw_name
    return "postgres" if any(p.pw_name == "postgres" for p in pwd.getpwall()) else "nobody"


@contextlib.contextmanager
def cluster() -> Iterator[Cluster]:
    """A new cluster. Skips the test, with a clear word, where no server is installed."""
    bin = programs()
    if bin is None:
        pytest.skip("PostgreSQL's server is not installed here: apt-get install postgresql")
    pytest.importorskip("psycopg", reason="psycopg is not installed: pip install 'steplatch[book]'")
    memory = Path("/dev/shm")
    room = Path(mkdtemp(prefix="spl-pg-", dir=memory if os.access(memory, os.W_OK) else None))
    user = _somebody()
    if os.geteuid() == 0:
        shutil.chown(room, user)
    made = Cluster(bin, room, user)
    try:
        made.make()
        yield made
    finally:
        made.stop()
        shutil.rmtree(room, ignore_errors=True)
