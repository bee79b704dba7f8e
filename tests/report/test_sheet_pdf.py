"""The PDF: tagged, fonts inside, the same bytes for the same job, the same words as the page."""

import hashlib
import os
import re
import subprocess
import sys
from io import BytesIO
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from steplatch.runner.cli import exits
from steplatch.runner.cli.main import main
from steplatch.runner.sheet.content import sheet_content
from steplatch.runner.sheet.pdf_page import load_printer, to_pdf

from tests.played import Played
from tests.report.page_reading import Page, pdf_words, said_on, squeezed
from tests.report.sample_sheets import (
    empty_job,
    page_of,
    pdf_of,
    sheet_of,
)

pypdf = pytest.importorskip("pypdf", reason="pypdf reads the PDF back")
ROOT = Path(__file__).parents[2]


def catalog(data: bytes) -> Any:
    """The document's catalog."""
    return pypdf.PdfReader(BytesIO(data)).trailer["/Root"]


def test_the_pdf_is_tagged_and_names_language_title_and_standard() -> None:
    data = pdf_of("good")
    root = catalog(data)
    assert root["/MarkInfo"]["/Marked"]
    assert "/StructTreeRoot" in root
    assert str(root["/Lang"]).startswith("en")
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    metadata = root["/Metadata"].get_data().decode("utf-8")
    assert "Job sheet: particulate filter: Job 2025-01-31-a7k2, finished" in metadata
    assert re.search(r"pdfuaid:part>1<", metadata)


def kids(element: Any) -> Any:
    """Every structure element below one, in order."""
    found = element.get("/K", [])
    for kid in found if isinstance(found, list) else [found]:
        kid = kid.get_object() if hasattr(kid, "get_object") else kid
        if isinstance(kid, dict) and "/S" in kid:
            yield kid
            yield from kids(kid)


@pytest.mark.parametrize("name", ["good", "draft", "empty"])
def test_headings_in_the_tags_are_in_order_and_every_figure_has_its_text(name: str) -> None:
    tree = catalog(pdf_of(name))["/StructTreeRoot"]
    every = list(kids(tree))
    levels = [int(e["/S"][2:]) for e in every if re.fullmatch(r"/H[1-6]", str(e["/S"]))]
    assert levels[0] == 1
    for one, two in pairwise(levels):
        assert two <= one + 1
    figures = [e for e in every if str(e["/S"]) == "/Figure"]
    assert len(figures) == {"good": 3, "draft": 2, "empty": 0}[name]
    assert all(len(str(e["/Alt"])) > 40 for e in figures)
    assert any(str(e["/S"]) == "/TH" for e in every)


def test_without_the_printer_the_page_is_written_and_the_pdf_says_what_to_add(
    good: Played,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setitem(sys.modules, "typst", None)  # as if it were not installed
    load_printer.cache_clear()
    of_job = ["--data", str(good.folder.path.parents[1]), "sheet", good.folder.id]
    page, pdf = tmp_path / "x.html", tmp_path / "x.pdf"
    assert main([*of_job, "--html", str(page), "--pdf", str(pdf)]) == exits.FAILED
    assert re.search(r"steplatch\[pdf\].*print it from the browser", capsys.readouterr().err)
    assert not page.exists() and not pdf.exists()
    assert main([*of_job, "--html", str(page)]) == exits.OK and page.exists()


def test_every_font_is_inside_the_file() -> None:
    reader = pypdf.PdfReader(BytesIO(pdf_of("good")))
    seen = 0
    for page in reader.pages:
        for font in page["/Resources"]["/Font"].values():
            descendant = font.get_object()["/DescendantFonts"][0].get_object()
            descriptor = descendant["/FontDescriptor"]
            assert {"/FontFile2", "/FontFile3"} & set(descriptor), descendant["/BaseFont"]
            seen += 1
    assert seen


def test_the_same_job_gives_the_same_bytes_also_in_another_process() -> None:
    script = (
        "import hashlib; from tests.report.sample_sheets import pdf_of;"
        "print(hashlib.sha256(pdf_of('good')).hexdigest())"
    )
    there = subprocess.run(
        [sys.executable, "-c", script],
        cwd=ROOT, check=True, capture_output=True, text=True, timeout=60,
        env={**os.environ, "PYTHONHASHSEED": "2", "TZ": "Asia/Tokyo"},
    ).stdout.strip()  # fmt: skip
    assert hashlib.sha256(pdf_of("good")).hexdigest() == there


def test_the_only_date_inside_is_that_of_the_last_journal_line() -> None:
    info = pypdf.PdfReader(BytesIO(pdf_of("good"))).metadata
    assert str(info["/CreationDate"]).startswith("D:20250131133")


@pytest.mark.parametrize("name", ["good", "bare", "draft"])
def test_pdf_and_page_hold_the_same_words(name: str) -> None:
    sheet = sheet_of(name)
    page = squeezed(Page(page_of(name)).words)
    _, words = pdf_words(pdf_of(name))
    words = re.sub(r"Job 2025-01-31-a7k2 · record [^\n]*?page ?\d+ ?of ?\d+", "", words)
    printed = squeezed(words)
    for text in said_on(sheet):
        plain = squeezed(text)
        assert plain in page, text
        pieces = [plain] if plain in printed else _pieces(text)
        assert all(piece in printed for piece in pieces), text


def _pieces(text: str) -> list[str]:
    """The words of a text that a page break or a header between its lines may part."""
    return [squeezed(word) for word in text.split()]


@pytest.mark.parametrize("part", ["customer", "agreement"])
@pytest.mark.parametrize("name", ["good", "bare"])
def test_customer_and_agreement_page_fit_one_sheet(name: str, part: str) -> None:
    pages, _ = pdf_words(pdf_of(name, part))
    assert pages == 1


def test_the_workshops_part_has_eight_pages_at_most_and_the_rest_is_a_listing(
    good: Played, tmp_path: Path
) -> None:
    counted = {}
    for part in ("technical", "listing"):
        pdf = tmp_path / f"{part}.pdf"
        of_job = ["--data", str(good.folder.path.parents[1]), "sheet", good.folder.id]
        assert main([*of_job, f"--{part}", "--pdf", str(pdf)]) == exits.OK
        counted[part], words = pdf_words(pdf.read_bytes())
        assert (part == "listing") is (
            "Every step" in words.replace("\n", " ").partition("Listing")[2]
        )
    assert counted["technical"] <= 8 < counted["technical"] + counted["listing"]


@pytest.mark.parametrize("name", ["hostile", "wordy"])
def test_the_customers_page_fits_one_sheet_whatever_is_typed(name: str) -> None:
    pages, _ = pdf_words(pdf_of(name, "customer"))
    assert pages == 1


def test_hostile_text_is_never_read_as_markup() -> None:
    texts = [
        squeezed('#import"x.typ":*#panic("no")$x^2$*strong*_emph_`raw`@ref<label>'),
        squeezed("<script>alert('x')</script>"),
        squeezed("\\u202egnirts"),
    ]
    printed = ""
    for page in pypdf.PdfReader(BytesIO(pdf_of("hostile", "technical"))).pages:
        printed += squeezed(page.extract_text())
        if all(text in printed for text in texts):  # where the whole complaint stands
            return
    assert not [text for text in texts if text not in printed]


def test_the_mark_stands_on_every_page() -> None:
    reader = pypdf.PdfReader(BytesIO(pdf_of("draft")))
    assert len(reader.pages) > 3
    for page in reader.pages:
        text = squeezed(page.extract_text())
        assert squeezed("PRACTICE: simulated vehicle, no work was done") in text
        assert squeezed("DRAFT: the job is not finished") in text
    assert "PRACTICE" not in pdf_words(pdf_of("good"))[1]


def test_a_job_without_lines_has_no_invented_date() -> None:
    from dataclasses import replace

    from steplatch.runner.sheet.pdf_page import NO_DATE, moment_of

    record = replace(empty_job(), lines=[], line_count=0)
    sheet = sheet_content(record)
    assert moment_of(sheet) == NO_DATE
    assert to_pdf(sheet).startswith(b"%PDF")
