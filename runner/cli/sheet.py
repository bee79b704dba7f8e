"""The ``sheet`` command: the sheets of one or more jobs, on the screen or as files."""

from __future__ import annotations

import argparse
import os
import sys
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING

from . import exits
from .command import JOB, Add, data_to_read, error_code, fail, shown_from

if TYPE_CHECKING:
    from ..record import DataFolder, JobFolder
    from ..sheet.beside import Beside
    from ..sheet.blocks import JobSheet


def add_to(add: Add) -> None:
    """``sheet``."""
    options = add(
        "sheet", "write a job's sheet", "steplatch sheet abcdefgh --html sheet.html", sheet
    )
    options.add_argument("job", nargs="+", help=f"{JOB}; several at once")
    options.add_argument("--html", type=Path, metavar="FILE", help="write the page here")
    options.add_argument("--pdf", type=Path, metavar="FILE", help="write the PDF here")
    options.add_argument("--open", action="store_true", help="open what was written")
    which = options.add_mutually_exclusive_group()
    for part in ("customer", "agreement", "technical"):
        which.add_argument(
            f"--{part}", dest="part", action="store_const", const=part, help=f"the {part} part only"
        )
    options.set_defaults(part="all")


def sheet(args: argparse.Namespace) -> int:
    """Write or show the sheets. A job that cannot be read stops none of the others.

    The exit code is that of the first job that could not be read or written, else OK.
    """
    from ..proof.collector import no_collector
    from ..sheet.beside import DrawingFailed

    data = data_to_read(args)
    written: list[Path] = []
    worst = exits.OK
    with ExitStack() as until_all_are_made, no_collector():
        beside = _second_process() if _worth_it(args) else None
        if beside is not None:
            until_all_are_made.enter_context(beside)
        for name in args.job:
            try:
                written += _write(args, data, name, beside)
            except Exception as error:
                code = exits.FAILED if isinstance(error, OSError | DrawingFailed) else None
                code = error_code(error) if code is None else code
                if code is None:
                    raise
                worst = worst or fail(code, _words(error))
                if isinstance(error, DrawingFailed):
                    break
    for path in written:
        print(f"sheet: {path}")
    if args.open and written:
        import webbrowser

        webbrowser.open(written[0].resolve().as_uri())
    return worst


def _second_process() -> Beside | None:
    """The process that draws beside; None, with a note, where the computer starts none."""
    from ..sheet.beside import Beside

    try:
        return Beside()
    except OSError as error:
        print(f"note: drawn in one process, which takes longer ({error})", file=sys.stderr)
        return None


def _worth_it(args: argparse.Namespace) -> bool:
    """Whether a second process pays: there is something to draw, the library that draws is not
    loaded here anyway, and there is a second processor."""
    to_draw = args.html is not None or args.pdf is not None
    return to_draw and "matplotlib.figure" not in sys.modules and (os.cpu_count() or 1) > 1


def _words(error: Exception) -> object:
    if isinstance(error, OSError) and error.filename:
        return (
            f"{error.filename}: cannot be written ({error.strerror}). Name a file in a folder "
            "that is there and may be written to."
        )
    return error


def _write(
    args: argparse.Namespace, data: DataFolder, name: str, beside: Beside | None
) -> list[Path]:
    from ..jobs.store import find

    folder = find(data, name)
    with shown_from(folder):
        return _made(args, folder, beside)


def _made(args: argparse.Namespace, folder: JobFolder, beside: Beside | None) -> list[Path]:
    from ..sheet import sheet_content, to_text
    from ..sheet.content import pictures_to_come
    from ..sheet.of_job import record_of

    if beside is None:
        record = record_of(folder)
    else:
        record = record_of(folder, lambda read: beside.expect(pictures_to_come(read)))
    content = sheet_content(record)
    html = _path(args.html, folder.id, len(args.job))
    pdf = _path(args.pdf, folder.id, len(args.job))
    if html is None and pdf is None:
        print(to_text(content, part=args.part))
    elif beside is None:
        _draw_here(content, args.part, html, pdf)
    else:
        _draw_beside(beside, content, args.part, html, pdf)
    return [path for path in (html, pdf) if path]


def _draw_here(content: JobSheet, part: str, html: Path | None, pdf: Path | None) -> None:
    from ..sheet import to_html, to_pdf

    if html is not None:
        html.write_text(to_html(content, part=part), encoding="utf-8")
    if pdf is not None:
        pdf.write_bytes(to_pdf(content, part=part))


def _draw_beside(
    beside: Beside, content: JobSheet, part: str, html: Path | None, pdf: Path | None
) -> None:
    """Page and PDF with the same pictures, the page made while the PDF is set beside it."""
    beside.ask(content, part, pdf=pdf is not None)
    wrong: OSError | None = None
    if html is not None:
        from ..sheet.html_page import page_template, to_html

        page_template()  # while the pictures are drawn
        page = to_html(content, part=part, draw=beside.pictures().__getitem__)
        try:
            html.write_text(page, encoding="utf-8")
        except OSError as error:  # the PDF has to be taken all the same
            wrong = error
    else:
        beside.pictures()
    if pdf is not None:
        document = beside.pdf()
        if wrong is None:
            pdf.write_bytes(document)
    if wrong is not None:
        raise wrong


def _path(given: Path | None, job_id: str, jobs: int) -> Path | None:
    """Where one job's sheet goes; with several jobs the id is put into the name."""
    if given is None or jobs == 1:
        return given
    return given.with_name(f"{given.stem}-{job_id}{given.suffix}")
