"""The job sheet: one model of its content, drawn as a page, as a PDF and in the terminal.

``sheet_content(record)`` builds the content from one job alone; ``to_html``, ``to_text`` and
``to_pdf`` draw it. Each is loaded when it is first asked for: who only draws does not load what
reads a job. Heavy libraries are imported inside the functions that draw.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .content import sheet_content
    from .html_page import to_html
    from .pdf_page import to_pdf
    from .record_view import ERASED, JobRecord, RecordLine
    from .text_page import to_text

_STANDS_IN = {
    "sheet_content": "content",
    "to_html": "html_page",
    "to_pdf": "pdf_page",
    "ERASED": "record_view",
    "JobRecord": "record_view",
    "RecordLine": "record_view",
    "to_text": "text_page",
}


def __getattr__(name: str) -> Any:
    if name not in _STANDS_IN:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_STANDS_IN[name]}"), name)


__all__ = ["ERASED", "JobRecord", "RecordLine", "sheet_content", "to_html", "to_pdf", "to_text"]
