"""The data folder's own settings: so far, how long customers' data are kept.

``settings.yaml`` in the data folder, one key:

    keep_personal_months: 72

Default: 72 months after a job's end. A claim on a simple contract can be brought for six years
(Limitation Act 1980, section 5, England and Wales), so until then the data may be needed to
answer one; after that nothing here needs them, and data protection law lets nobody keep them
longer than needed (Regulation (EU) 2016/679, article 5(1)(e), kept in UK law; from memory).
Elsewhere other periods hold: set what the workshop's own law and insurer ask for.
"""

from pathlib import Path
from typing import Annotated, Final

from pydantic import Field
from steplatch.safety.catalogue import _

from ..input.strict_yaml import StrictModel, load_model
from ..record.disk import Disk, replace_file
from ..record.faults import failed
from ..record.folders import DataFolder

SETTINGS_NAME: Final = "settings.yaml"
DEFAULT_MONTHS: Final = 72
MOST_MONTHS: Final = 360


class SettingsFile(StrictModel):
    """The settings of one data folder."""

    keep_personal_months: Annotated[int, Field(ge=1, le=MOST_MONTHS)] = DEFAULT_MONTHS


def settings_path(data: DataFolder) -> Path:
    """Where the settings stand."""
    return data.path / SETTINGS_NAME


def load_settings(data: DataFolder) -> SettingsFile:
    """The settings, or the defaults when there is no file. Raises BadFile."""
    path = settings_path(data)
    return load_model(path, SettingsFile)[0] if path.exists() else SettingsFile()


def keep_for(data: DataFolder, months: int, disk: Disk | None = None) -> None:
    """Set how long customers' data are kept. Raises ValueError, JournalFailed."""
    if not 1 <= months <= MOST_MONTHS:
        raise ValueError(
            _(
                "customers' data are kept for 1 to {most_months} months, not {months}",
                most_months=MOST_MONTHS,
                months=months,
            )
        )
    path = settings_path(data)
    text = (
        "# How long after a job's end customers' data are kept (steplatch customer due).\n"
        f"keep_personal_months: {months}\n"
    )
    try:
        replace_file(disk or Disk(), path, text.encode("utf-8"))
    except OSError as error:
        raise failed(path, _("write the settings"), error) from error
