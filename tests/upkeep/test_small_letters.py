"""A vehicle number typed in small letters is taken as what stands on the plate."""

from datetime import date
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from steplatch.runner.cli.guided_job import keeper_for
from steplatch.runner.record import JobFolder, NotRecordable, PersonalField, load_personal
from steplatch.runner.record.folders import job_id
from steplatch.runner.record.lock import JobLock


def test_small_letters_are_kept_as_capitals_and_a_wrong_letter_is_refused_in_words(
    tmp_path: Path,
) -> None:
    folder = JobFolder(tmp_path / job_id(date(2026, 3, 2), "abcdef22"))
    folder.path.mkdir()
    with JobLock.take(folder) as lock:
        session: Any = SimpleNamespace(writer=SimpleNamespace(lock=lock))
        keep = keeper_for(session, folder)
        assert keep("vin_tail", "x0000001")
        session.settle()  # as once its hash stands in the journal
        with pytest.raises(NotRecordable, match="last 4 to 8 characters") as bad:
            keep("vin_tail", "qqqq")
    assert "vin_tail" not in f"{bad.value.what} {bad.value.remedy}"
    kept = load_personal(folder.path)
    assert kept is not None
    assert getattr(kept.fields[PersonalField.VIN_TAIL], "value", "") == "X0000001"
