"""The job sheet: one model of its content, drawn as a page, as a PDF and in the terminal.

``sheet_content(record)`` builds the content from one job alone; ``to_html``, ``to_text`` and
``to_pdf`` draw it. Heavy libraries are imported inside the functions that draw.
"""
