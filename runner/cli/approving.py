"""Own procedures of a workshop: approved by somebody of it before a real job rests on them.

An approval is a line of ``approvals.jsonl`` beside them: who, when, and the SHA-256 of the text
that a job would keep. Another text, even of a shared step in it, is not approved.
"""

import hashlib
import json
from dataclasses import asdict, dataclass
from pathlib import Path

from steplatch.safety.catalogue import _

from ..core.loading import load_written_out
from ..input.shelf import PROCEDURES
from ..record import DataFolder

OWN_FOLDER = "procedures"
"""Where a workshop's own procedures lie in its data folder; their lessons in ``lessons`` below."""
APPROVALS = "approvals.jsonl"
MAY_APPROVE = ("technician", "supervisor")


@dataclass(frozen=True, slots=True)
class Approval:
    """One approval: of which text, by whom, when (RFC 3339, UTC)."""

    procedure: str
    revision: int
    sha256: str
    by: str
    role: str
    utc: str
    with_pin: bool


def text_hash(path: Path) -> str:
    """SHA-256 of the text that a job with this procedure would keep. Raises BadFile."""
    return hashlib.sha256(load_written_out(path)[2]).hexdigest()


def approvals(data: DataFolder) -> list[Approval]:
    """What was approved here; an unreadable line approves nothing."""
    path = data.path / OWN_FOLDER / APPROVALS
    found = []
    for line in path.read_text("utf-8").splitlines() if path.is_file() else ():
        try:
            found.append(Approval(**json.loads(line)))
        except (ValueError, TypeError):
            continue
    return found


def keep(data: DataFolder, approval: Approval) -> Path:
    """Add an approval to the file; returns its path."""
    path = data.path / OWN_FOLDER / APPROVALS
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("a", encoding="utf-8") as stream:
        stream.write(json.dumps(asdict(approval), ensure_ascii=False) + "\n")
    return path


def not_approved(data: DataFolder, main: str, digest: str) -> str:
    """Why a real job must not rest on the main procedure of this id and text (``text_hash``); ''
    where it is shipped or approved."""
    shipped = PROCEDURES / f"{main}.yaml"
    if shipped.is_file() and text_hash(shipped) == digest:
        return ""
    if any(one.sha256 == digest and one.procedure == main for one in approvals(data)):
        return ""
    return _(
        "the procedure '{main}' is your own and not approved as it stands. Prove it with "
        "steplatch check NAME, then: steplatch procedure approve NAME --as PERSON",
        main=main,
    )
