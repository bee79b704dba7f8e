"""Somebody of the workshop who types a PIN at a terminal, for what asks for one."""

from pathlib import Path

import pytest
from steplatch.runner.cli import proving
from steplatch.runner.workshop.pin_file import Cost
from steplatch.runner.workshop.pins import BOOK_NAME, PinBook

WHO, PIN = "supervisor-1", "4821"


def who_types_a_pin(data: Path, monkeypatch: pytest.MonkeyPatch, typed: str = PIN) -> str:
    """The id of a person of this data folder, at whose terminal ``typed`` is typed as the PIN."""
    PinBook(data / BOOK_NAME, Cost(2, 1, 1)).set_pin(WHO, "Example Supervisor", PIN)
    monkeypatch.setattr(proving, "has_terminal", lambda: True)
    monkeypatch.setattr(proving, "secret", lambda _: typed)
    return WHO
