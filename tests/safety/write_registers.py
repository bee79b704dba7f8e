"""Write the printed registers anew: ``python -m tests.safety.write_registers``."""

from pathlib import Path

from tests.safety.register_pages import PAGES

ROOM = Path(__file__).resolve().parents[2] / "safety"


def main() -> None:
    """Write every page and say so."""
    for name, page in PAGES.items():
        (ROOM / name).write_text(page(), encoding="utf-8")
        print(f"wrote {ROOM / name}")


if __name__ == "__main__":
    main()
