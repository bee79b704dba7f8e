"""Writes the pictures of the README from the real program: two screens of the shipped lesson, and
the customer's page of a shipped job.

    python -m tests.upkeep.write_pictures
"""

import json
import tempfile
from pathlib import Path
from xml.sax.saxutils import escape

from steplatch.runner.record import JobFolder
from steplatch.runner.screen.page import ScreenPart, parts_of
from steplatch.runner.screen.talk import Prompt
from steplatch.runner.screen.terminal.paint import BARS, BOLD

from tests.console.conftest import walked
from tests.upkeep.write_guide import GUIDE

PICTURES = GUIDE / "pictures"
COLUMNS, ROWS = 80, 24
STEPS = {"bay": "clean-above:before-raised", "dose": "clean-above:off-spray"}
"""The step that each screen shows."""
_WIDE, _TALL, _EDGE = 7.8, 16.0, 12.0
_INK, _PAPER = "#e8e6e1", "#1b1d1f"


def screens() -> dict[str, str]:
    """Each screen as SVG, by its name."""
    with tempfile.TemporaryDirectory() as folder:
        prompts = walked("good-clean", Path(folder))
    return {name: screen(part_at(prompts, step)) for name, step in STEPS.items()}


def part_at(prompts: list[Prompt], step: str) -> ScreenPart:
    """The part of a step's screen that asks."""
    prompt = next(p for p in prompts if p.page is not None and p.page.step == step)
    return parts_of(prompt, [], COLUMNS, ROWS)[-1]


def screen(part: ScreenPart) -> str:
    """One part of a screen as it stands on a terminal of 80 x 24 in 256 colours."""
    width, height = COLUMNS * _WIDE + 2 * _EDGE, ROWS * _TALL + 2 * _EDGE
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {height:.0f}" '
        'font-family="DejaVu Sans Mono, Consolas, Menlo, monospace" font-size="12.8" '
        f'xml:space="preserve"><rect width="100%" height="100%" rx="6" fill="{_PAPER}"/>'
    ]
    for number, row in enumerate(part.rows):
        x = 0
        for cell in row:
            out.append(_cell(x, number, cell.text, cell.style, cell.width))
            x += cell.width
    out.append(_cell(0, ROWS - 2, part.keys, "", COLUMNS))
    out.append(_cell(0, ROWS - 1, "> \u2588", "", COLUMNS))
    return "".join(out) + "</svg>\n"


def _cell(column: int, row: int, text: str, style: str, width: int) -> str:
    x, y = _EDGE + column * _WIDE, _EDGE + row * _TALL
    ink, out = _INK, ""
    if style in BARS:
        ink, paper = BARS[style]
        out = (
            f'<rect x="{x:.1f}" y="{y:.1f}" width="{width * _WIDE:.1f}" height="{_TALL}" '
            f'fill="{paper}"/>'
        )
    if not text.strip():
        return out
    bold = ' font-weight="bold"' if style in BOLD or style in BARS else ""
    shown = text.rstrip().replace(" ", "\u00a0")  # SVG folds plain spaces
    long = f'textLength="{len(shown) * _WIDE:.1f}" lengthAdjust="spacingAndGlyphs"'
    words = f'<text x="{x:.1f}" y="{y + 12.2:.1f}" fill="{ink}"{bold} {long}>{escape(shown)}</text>'
    return out + words


def sheet() -> bytes:
    """The customer's page of the shipped job that ended as expected."""
    import typst
    from steplatch.runner.sheet.content import sheet_content
    from steplatch.runner.sheet.html_page import TEMPLATES
    from steplatch.runner.sheet.of_job import record_of
    from steplatch.runner.sheet.pdf_page import load_printer, moment_of, plain_of

    jobs = sorted((GUIDE.parent / "jobs").iterdir())
    folder = next(
        job for job in jobs if "as_expected" in (job / "journal.jsonl").read_text("utf-8")
    )
    content = sheet_content(record_of(JobFolder(folder)))
    made = typst.compile(
        (TEMPLATES / "sheet.typ").read_bytes(),
        font_paths=load_printer(),
        format="png",
        ppi=100.0,
        sys_inputs={"sheet": json.dumps(plain_of(content, "customer", moment_of(content)))},
    )
    page = made[0] if isinstance(made, list) else made
    assert isinstance(page, bytes)
    return page


if __name__ == "__main__":
    PICTURES.mkdir(exist_ok=True)
    for name, text in screens().items():
        (PICTURES / f"{name}.svg").write_text(text, encoding="utf-8")
    (PICTURES / "sheet.png").write_bytes(sheet())
    print(
        *(f"written: examples/guide/pictures/{p.name}" for p in sorted(PICTURES.iterdir())),
        sep="\n",
    )
