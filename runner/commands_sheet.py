"""The ``sheet`` command: the sheets of one or more jobs, on the screen or as files."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from runner import exits
from runner.collector import no_collector
from runner.commands_line import data_folder, error_code, fail
from runner.record import DataFolder

if TYPE_CHECKING:
    from runner.report.blocks import Sheet


def sheet(args: argparse.Namespace) -> int:
    """Write or show the sheets. A job that cannot be read stops none of the others.

    The exit code is that of the first job that could not be read or written, else OK.
    """
    data = data_folder(args)
    written: list[Path] = []
    worst = exits.OK
    for name in args.job:
        try:
            with no_collector():
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
        return (
            f"{error.filename}: cannot be written ({error.strerror}). Name a file in a folder "
            "that is there and may be written to."
        )
    return error


def _write(args: argparse.Namespace, data: DataFolder, name: str) -> list[Path]:
    from runner.report import sheet_content, to_html, to_pdf, to_text
    from runner.sheet_of import record_of
    from runner.store import find

    folder = find(data, name)
    content = sheet_content(record_of(folder))
    html = _path(args.html, folder.id, len(args.job))
    pdf = _path(args.pdf, folder.id, len(args.job))
    if html and pdf:
        _write_both(content, args.part, html, pdf)
    elif html:
        html.write_text(to_html(content, part=args.part), encoding="utf-8")
    elif pdf:
        pdf.write_bytes(to_pdf(content, part=args.part))
    else:
        print(to_text(content, part=args.part))
    return [path for path in (html, pdf) if path]


def _write_both(content: "Sheet", part: str, html: Path, pdf: Path) -> None:
    """Page and PDF with the same pictures, the page made while the PDF is set beside it."""
    from concurrent.futures import ThreadPoolExecutor

    from runner.report import to_html, to_pdf
    from runner.report.plots import plot_svg

    for picture in content.pictures(part):
        plot_svg(picture)  # once for both, before there are two that would draw
    with ThreadPoolExecutor(max_workers=1) as beside:
        document = beside.submit(to_pdf, content, part=part)
        html.write_text(to_html(content, part=part), encoding="utf-8")
        pdf.write_bytes(document.result())


def _path(given: Path | None, job_id: str, jobs: int) -> Path | None:
    """Where one job's sheet goes; with several jobs the id is put into the name."""
    if given is None or jobs == 1:
        return given
    return given.with_name(f"{given.stem}-{job_id}{given.suffix}")
