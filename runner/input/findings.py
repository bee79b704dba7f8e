"""What is wrong in a file or in a typed line: where, what, and the remedy."""

from collections.abc import Iterable
from dataclasses import dataclass

from steplatch.safety.catalogue import _

SHOWN_AT_ONCE = 100


def printable(text: str) -> str:
    """Return ``text`` with every character a terminal might obey or hide written as an escape."""
    return "".join(
        c if c.isprintable() else f"\\x{ord(c):02x}" if ord(c) < 256 else f"\\u{ord(c):04x}"
        for c in text
    )


def shown(value: object, limit: int = 60) -> str:
    """Return ``value`` as one short printable line, cut at ``limit`` characters."""
    text = str(value)
    return printable(text if len(text) <= limit else text[: limit - 1] + "…")


class BadValue(ValueError):  # noqa: N818 - named for what the person sees
    """A value that cannot be taken: what is wrong, and the remedy, both without the full stop.

    Raised by a model's validators, it becomes a finding at the value's line and column.
    """

    def __init__(self, problem: str, remedy: str) -> None:
        super().__init__(f"{problem}. {remedy}")
        self.problem = problem
        self.remedy = remedy


@dataclass(frozen=True, slots=True, order=True)
class Finding:
    """One thing that is wrong. ``line`` and ``column`` count from 1, in characters.

    ``problem`` and ``remedy`` are sentences without the full stop; ``key`` is where in the
    file's structure, such as ``steps[3].band`` (items counted from 1), or "file".
    """

    file: str
    line: int
    column: int
    key: str
    problem: str
    remedy: str

    def __str__(self) -> str:
        """Return ``file:line:column: key: problem. remedy.`` on one printable line."""
        remedy = self.remedy if self.remedy.endswith((".", "?")) else self.remedy + "."
        return printable(
            f"{self.file}:{self.line}:{self.column}: {self.key}: {self.problem}. {remedy}"
        )


class BadFile(Exception):  # noqa: N818 - named for what the person sees
    """A file that cannot be taken. Carries all findings of the stage that refused it.

    The stages are: characters, structure, model, meaning. ``str`` lists the first hundred
    findings in the order of the file and says how many more there are.
    """

    def __init__(self, findings: Iterable[Finding]) -> None:
        self.findings: tuple[Finding, ...] = tuple(
            sorted(dict.fromkeys(findings), key=lambda f: (f.file, f.line, f.column))
        )
        if not self.findings:
            raise ValueError(_("BadFile needs at least one finding"))
        super().__init__(*self.findings)

    def __str__(self) -> str:
        lines = [str(finding) for finding in self.findings[:SHOWN_AT_ONCE]]
        rest = len(self.findings) - SHOWN_AT_ONCE
        if rest > 0:
            lines.append(_("... and {rest} more findings; mend these first", rest=rest))
        return "\n".join(lines)
