"""Writes the reviewed texts anew: ``python -m tests.report.write_golden``. Read the difference."""

from pathlib import Path

from runner.report import to_text
from tests.report.sample_sheets import sheet_of

GOLDEN = Path(__file__).parent / "golden"

if __name__ == "__main__":
    GOLDEN.mkdir(exist_ok=True)
    for name in ("good", "poor"):
        text = to_text(sheet_of(name), 80, "customer")
        (GOLDEN / f"{name}.txt").write_text(text, encoding="utf-8")
