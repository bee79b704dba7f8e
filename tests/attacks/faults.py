"""One call to the disk fails while a real job is begun, worked on or closed: it is said, the exit
code is 0 or 7, and coming back afterwards finds every line that was confirmed."""

import contextlib
import io
import shutil
import traceback
from pathlib import Path

from steplatch.runner.cli import exits
from steplatch.runner.cli.closing import close_job
from steplatch.runner.core.commands import Note
from steplatch.runner.jobs.sealing import put_right
from steplatch.runner.jobs.store import begin
from steplatch.runner.record import Disk, JobFolder, RecordError, find_data_folder, verify
from steplatch.runner.record.clocks import RealClock
from steplatch.runner.screen.terminal.plain_lines import PlainLines

from tests.played import bundle_from
from tests.record.failing_disk import Crashed, FailingDisk, Fault

from .real_jobs import real_job


class Faults:
    """A room in which a job is closed, or begun and worked on, on a disk that fails."""

    def __init__(self, room: Path) -> None:
        self.kept = find_data_folder(room / "fault-kept", {})
        self.folder, self.job = real_job(self.kept, close=False)
        self.room = room / "fault"
        self.calls = {
            name: self._run(name, FailingDisk())[0].calls for name in ("closing", "begin")
        }

    def places(self) -> list[tuple[str, int, Fault]]:
        """Every call there is, with every way in which it can fail."""
        return [
            (name, at, fault)
            for name, calls in self.calls.items()
            for at in range(1, calls + 1)
            for fault in Fault
        ]

    def tried(self, name: str, at: int, fault: Fault) -> str:
        """One fault at one place: what is wrong with how it ended; '' for nothing."""
        label = f"{name}, call {at}, {fault.name.lower()}"
        try:
            _, wrong = self._run(name, FailingDisk(at, fault))
        except Exception:
            wrong = traceback.format_exc().strip().splitlines()[-1][:100]
        return f"{label}: {wrong}" if wrong else ""

    def _run(self, name: str, disk: FailingDisk) -> tuple[FailingDisk, str]:
        shutil.rmtree(self.room, ignore_errors=True)
        out = io.StringIO()
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(out):
            wrong = self._closing(disk, out) if name == "closing" else self._begin(disk)
        return disk, wrong

    def _closing(self, disk: FailingDisk, out: io.StringIO) -> str:
        shutil.copytree(self.kept.path, self.room)
        folder = JobFolder(self.room / "jobs" / self.folder.id)
        code, who = None, "technician-1"
        try:
            code = close_job(PlainLines(), folder, self.job, who, disk)
        except Crashed:
            code = exits.OK  # the process is gone; nothing is said
        finally:
            disk.bury()
        if code not in (exits.OK, exits.RECORD_FAILED):
            return f"exit code {code}"
        if code == exits.RECORD_FAILED and not out.getvalue().strip():
            return "nothing was said"
        again = close_job(PlainLines(), folder, self.job, who)
        return "" if again == exits.OK and verify(folder.path).sound else "it cannot be closed"

    def _begin(self, disk: FailingDisk) -> str:
        data = find_data_folder(self.room, {})
        data.jobs.mkdir(parents=True)
        confirmed = 0
        try:
            session, _ = begin(
                data, bundle_from(), RealClock(), "technician-1", practice=False,
                token="aaaaaaaa", disk=disk,
            )  # fmt: skip
            confirmed = session.writer.head.lines
            try:
                for number in range(3):
                    session.submit(Note("text_fault", {"text": f"note {number}"}))
                    confirmed += 1
            finally:
                session.writer.close()
        except RecordError as error:
            if not error.what or not error.remedy:
                return "nothing was said"
        except Crashed:
            pass
        finally:
            disk.bury()
        found = [path for path in data.jobs.iterdir() if path.is_dir()]
        if not confirmed or not found:
            return "" if not confirmed else "the job is gone"
        put_right(JobFolder(found[0]), "technician-1", Disk())
        checked = verify(found[0])
        return "" if checked.sound and checked.lines >= confirmed else "a confirmed line is lost"
