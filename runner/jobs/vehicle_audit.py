"""The audit of what came from a vehicle: each raw log decoded once more, each report compared.

A log must be the one that the journal names by its hash; decoded with the same table and the same
reducer it must say the very happenings that the journal holds, in their order. With another decoder
than then it is not compared, and that is said.
"""

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from steplatch.safety.catalogue import _

from ..live.raw_log import MAX_BYTES, BadRawLog, replay
from ..record import Disk, JobFolder, JournalLine
from ..record.disk import read_whole
from .fingerprint import decoder_sha256
from .vehicle_link import ROOM

Seen = tuple[str, str, int, int, tuple[tuple[str, object], ...]]


@dataclass(slots=True)
class LinkLog:
    """What a journal holds of one link: which decoder, which log, what was reported."""

    decoder: str = ""
    sha256: str = ""
    reports: list[Seen] = field(default_factory=list)


@dataclass(slots=True)
class VehicleAudit:
    """``files``: logs that are missing or changed. ``wrong``: reports that do not follow from
    them. ``said``: what was compared, and what was not and why."""

    files: list[str] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    said: list[str] = field(default_factory=list)


def audit_vehicle(folder: JobFolder, lines: Sequence[JournalLine]) -> VehicleAudit:
    """Compare every report of the vehicle with the raw logs beside the journal."""
    found = VehicleAudit()
    for name, log in sorted(links_of(lines).items()):
        _one(folder, name, log, found)
    return found


def links_of(lines: Sequence[JournalLine]) -> dict[str, LinkLog]:
    """What the journal holds of each link, by its name. What the program itself made unknown when
    a link ended stands in no log and names none."""
    links: dict[str, LinkLog] = {}
    for line in lines:
        command = line.command
        value = command.get("value")
        if command.get("kind") == "Note" and isinstance(value, dict):
            link = str(value.get("link", ""))
            if command.get("name") == "vehicle_link":
                links.setdefault(link, LinkLog()).decoder = str(value.get("decoder", ""))
            if command.get("name") == "vehicle_log":
                links.setdefault(link, LinkLog()).sha256 = str(value.get("sha256", ""))
        if command.get("kind") == "VehicleReport" and command.get("link"):
            links.setdefault(str(command["link"]), LinkLog()).reports.append(_seen(command))
    return links


def _seen(command: dict[str, object]) -> Seen:
    numbers = command.get("numbers")
    pairs = sorted(numbers.items()) if isinstance(numbers, dict) else []
    return (
        str(command.get("form")),
        str(command.get("what")),
        command.get("from_ms"),  # type: ignore[return-value]
        command.get("at_ms"),
        tuple(pairs),
    )


def _one(folder: JobFolder, name: str, log: LinkLog, found: VehicleAudit) -> None:
    label = _("raw log of link {name!r}", name=name[:20])
    if not (name.isascii() and name.isdigit()):
        found.files.append(
            _("{label}: it has no name that a program gives, and was not looked for", label=label)
        )
        return
    if not log.sha256:
        found.said.append(_("{label}: not closed yet, so it cannot be compared", label=label))
        return
    path = folder.path / ROOM / f"{name}.raw"
    try:
        data = read_whole(Disk(), path, MAX_BYTES)
    except OSError as error:
        found.files.append(
            _("{label}: cannot be read ({strerror})", label=label, strerror=error.strerror)
        )
        return
    if hashlib.sha256(data).hexdigest() != log.sha256:
        found.files.append(_("{label}: its bytes were changed after it was closed", label=label))
        return
    if log.decoder != decoder_sha256():
        found.said.append(
            _("{label}: whole; another decoder made the reports, so not compared", label=label)
        )
        return
    try:
        again = replay(data)
    except BadRawLog as bad:
        found.wrong.append(_("{label}: it cannot be decoded: {bad}", label=label, bad=bad))
        return
    decoded: list[Seen] = [
        (h.kind.value, h.what, h.from_ms, h.at_ms, tuple(sorted(h.numbers)))
        for h in again.happenings
    ]
    wrong = list(_differences(log.reports, decoded, again.whole))
    found.wrong += [f"{label}: {text}" for text in wrong]
    if not wrong:
        cut = "" if again.whole else _("; the log was cut off")
        found.said.append(
            _(
                "{label}: decoded again, all {count} reports the same{cut}",
                label=label,
                count=len(log.reports),
                cut=cut,
            )
        )


def _differences(reports: list[Seen], decoded: list[Seen], whole: bool) -> Iterator[str]:
    """Where journal and log part. A link that was cut off may know more than the journal, at its
    end, and nothing else."""
    for number, (report, again) in enumerate(zip(reports, decoded, strict=False), start=1):
        if report != again:
            yield _(
                "report {number} is {words}, the log says {words_2}",
                number=number,
                words=_words(report),
                words_2=_words(again),
            )
            return
    if len(reports) > len(decoded):
        yield _(
            "report {count} is {words}, the log has no more",
            count=len(decoded) + 1,
            words=_words(reports[len(decoded)]),
        )
    elif whole and len(decoded) > len(reports):
        more = decoded[len(reports)]
        yield _("the log also says {words}, of which the journal knows nothing", words=_words(more))


def _words(seen: Seen) -> str:
    form, what, _, at_ms, numbers = seen
    said = " ".join(f"{key}={value}" for key, value in numbers)
    return f"{form} {what} {said} at {at_ms} ms".replace("  ", " ")
