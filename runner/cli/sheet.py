"""The ``sheet`` command: the sheets of one or more jobs, on the screen or as files."""

from __future__ import annotations

import argparse
import errno
from pathlib import Path
from typing import TYPE_CHECKING

from steplatch.safety.catalogue import _

from . import exits
from .command import JOB, Add, data_to_read, error_code, fail, shown_from
from .outputs import add_overwrite, write_out

if TYPE_CHECKING:
    from ..record import DataFolder, JobFolder


def add_to(add: Add) -> None:
    """``sheet``."""
    options = add(
        "sheet", _("write a job's sheet"), "steplatch sheet abcdefgh --html sheet.html", sheet
    )
    options.add_argument("job", nargs="+", help=_("{job}; several at once", job=JOB))
    options.add_argument("--html", type=Path, metavar=_("FILE"), help=_("write the page here"))
    options.add_argument("--pdf", type=Path, metavar=_("FILE"), help=_("write the PDF here"))
    add_overwrite(options)
    options.add_argument("--open", action="store_true", help=_("open what was written"))
    which = options.add_mutually_exclusive_group()
    for part in ("customer", "agreement", "technical", "listing"):
        which.add_argument(
            f"--{part}",
            dest="part",
            action="store_const",
            const=part,
            help=_("the {part} part only", part=part),
        )
    options.set_defaults(part="all")


def sheet(args: argparse.Namespace) -> int:
    """Write or show the sheets. A job that cannot be read stops none of the others.

    The exit code is that of the first job that could not be read or written, else OK.
    """
    from ..proof.collector import no_collector
    from ..sheet.pdf_page import NoPrinter, load_printer

    data = data_to_read(args)
    if args.pdf is not None:
        try:
            load_printer()
        except NoPrinter as error:
            return fail(exits.FAILED, error)
    written: list[Path] = []
    worst = exits.OK
    with no_collector():
        for name in args.job:
            try:
                written += _write(args, data, name)
            except Exception as error:
                code = exits.FAILED if isinstance(error, OSError) else error_code(error)
                if code is None:
                    raise
                worst = worst or fail(code, _words(error))
    for path in written:
        print(f"sheet: {path}")
    if args.open and written:
        import webbrowser

        webbrowser.open(written[0].resolve().as_uri())
    return worst


def _words(error: Exception) -> object:
    if isinstance(error, OSError) and error.filename:
        return _(
            "{filename}: cannot be written ({strerror}). Name a file in a folder that is "
            "there and may be written to.",
            filename=error.filename,
            strerror=error.strerror,
        )
    return error


def _write(args: argparse.Namespace, data: DataFolder, name: str) -> list[Path]:
    from ..jobs.store import find

    folder = find(data, name)
    with shown_from(folder):
        return _made(args, folder)


def _made(args: argparse.Namespace, folder: JobFolder) -> list[Path]:
    from ..sheet.content import sheet_content
    from ..sheet.html_page import to_html
    from ..sheet.of_job import record_of
    from ..sheet.pdf_page import to_pdf
    from ..sheet.text_page import to_text

    content = sheet_content(record_of(folder))
    html = _path(args.html, folder.id, len(args.job))
    pdf = _path(args.pdf, folder.id, len(args.job))
    for path in filter(None, (html, pdf)):
        if not path.parent.is_dir():  # a slip in the name makes no folders
            raise FileNotFoundError(errno.ENOENT, _("there is no such folder"), str(path))
    if html is not None:
        write_out(html, to_html(content, part=args.part).encode("utf-8"), args.overwrite)
    if pdf is not None:
        write_out(pdf, to_pdf(content, part=args.part), args.overwrite)
    if html is None and pdf is None:
        print(to_text(content, part=args.part))
    return [path for path in (html, pdf) if path]


def _path(given: Path | None, job_id: str, jobs: int) -> Path | None:
    """Where one job's sheet goes; with several jobs the id is put into the name."""
    if given is None or jobs == 1:
        return given
    return given.with_name(f"{given.stem}-{job_id}{given.suffix}")
