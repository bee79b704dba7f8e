"""The page in a real browser, from disk: no message, no request, the stated number of pages."""

import json
import shutil
import subprocess
from pathlib import Path
from typing import NamedTuple

import pytest

from tests.report.sample_sheets import page_of

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
pytestmark = pytest.mark.skipif(
    CHROMIUM is None, reason="no chromium on this computer to load and print the page with"
)


class Loaded(NamedTuple):
    """What loading a page led to: console messages, addresses asked for, sizes in pt of pages."""

    messages: list[str]
    asked: list[str]
    pages: list[tuple[int, int]]


def load(source: str, room: Path) -> Loaded:
    """Open ``source`` from disk, note console and network, print it."""
    from pypdf import PdfReader

    page, out, net = room / "sheet.html", room / "sheet.pdf", room / "net.json"
    page.write_text(source, encoding="utf-8")
    said = subprocess.run(
        [
            str(CHROMIUM), "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic",
            "--no-first-run", "--disable-background-networking", "--disable-component-update",
            "--disable-sync", f"--user-data-dir={room / 'profile'}", "--no-pdf-header-footer",
            "--host-resolver-rules=MAP * ~NOTFOUND", f"--log-net-log={net}",
            "--enable-logging=stderr", f"--print-to-pdf={out}", page.as_uri(),
        ],
        check=True, capture_output=True, text=True, timeout=60,
    )  # fmt: skip
    messages = [line for line in said.stderr.splitlines() if "CONSOLE" in line]
    log = json.loads(net.read_text(encoding="utf-8"))
    asked = {
        str(event["params"]["url"])
        for event in log["events"]
        if isinstance(event.get("params"), dict) and "url" in event["params"]
    }
    pages = [
        (round(float(p.mediabox.width)), round(float(p.mediabox.height)))
        for p in PdfReader(out).pages
    ]
    return Loaded(messages, sorted(a for a in asked if page_asked(a)), pages)


def page_asked(address: str) -> bool:
    """Whether an address could only have been asked for because a page names it.

    A fresh browser may ask its maker for news of its own; the planted address below is found.
    """
    return address.startswith(("http:", "https:", "ws:", "wss:")) and "google" not in address


def test_a_page_that_does_ask_and_complain_is_found_out(tmp_path: Path) -> None:
    planted = (
        "<!DOCTYPE html><title>x</title><img src='http://outside.example/x.png' alt='x'>"
        "<script>console.error('planted')</script>"
    )
    found = load(planted, tmp_path)
    assert any("planted" in m for m in found.messages)
    assert found.asked == ["http://outside.example/x.png"]


@pytest.mark.parametrize("name", ["wordy", "hostile"])
def test_the_customers_page_loads_in_silence_and_prints_on_one_sheet_of_a4(
    name: str, tmp_path: Path
) -> None:
    found = load(page_of(name, "customer"), tmp_path)
    assert found.messages == []
    assert found.asked == []
    assert found.pages == [(595, 842)]  # A4: 210 x 297 mm


@pytest.mark.slow
@pytest.mark.parametrize("name", ["good", "poor", "draft", "bare", "empty"])
def test_every_job_prints_customer_and_agreement_on_one_sheet_each(
    name: str, tmp_path: Path
) -> None:
    for part in ("customer", "agreement"):
        room = tmp_path / part
        room.mkdir()
        found = load(page_of(name, part), room)
        assert (found.messages, found.asked, len(found.pages)) == ([], [], 1), part


def test_the_whole_sheet_loads_in_silence_too(tmp_path: Path) -> None:
    found = load(page_of("good"), tmp_path)
    assert (found.messages, found.asked) == ([], [])
    assert len(found.pages) > 3
