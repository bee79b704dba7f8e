"""The job sheet: one model of its content, drawn as a page, as a PDF and in the terminal.

``sheet_content(record)`` builds the content from one job alone; ``to_html``, ``to_text`` and
``to_pdf`` draw it. Heavy libraries are imported inside the functions that draw.
"""

from runner.report.content import sheet_content
from runner.report.html_page import to_html
from runner.report.pdf_page import to_pdf
from runner.report.record_view import ERASED, JobRecord, RecordLine
from runner.report.text_page import to_text

__all__ = ["ERASED", "JobRecord", "RecordLine", "sheet_content", "to_html", "to_pdf", "to_text"]
