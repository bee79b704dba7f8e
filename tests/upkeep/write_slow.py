"""``python -m tests.upkeep.write_slow [paths]``: runs the slow tests; their last figures by file
are the page ``tests/SLOW.md``."""

import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ET
from collections import defaultdict
from datetime import UTC, datetime
from pathlib import Path

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "tests" / "SLOW.md"


def table(junit: Path) -> str:
    """Files by their time, with tests, failures, skips and seconds."""
    rows: dict[str, list[float]] = defaultdict(lambda: [0, 0, 0, 0.0])
    for case in ET.parse(junit).iter("testcase"):
        row = rows[case.attrib["classname"].replace(".", "/") + ".py"]
        row[0] += 1
        row[1] += case.find("failure") is not None or case.find("error") is not None
        row[2] += case.find("skipped") is not None
        row[3] += float(case.attrib["time"])
    out = ["| file | tests | failed | skipped | s |", "|---|--:|--:|--:|--:|"]
    for name, (tests, failed, skipped, seconds) in sorted(rows.items(), key=lambda r: -r[1][3]):
        out.append(f"| `{name}` | {tests} | {failed} | {skipped} | {seconds:.0f} |")
    return "\n".join(out)


def main(paths: list[str]) -> int:
    """Run, write the page, and end as the tests did."""
    with tempfile.TemporaryDirectory() as room:
        junit = Path(room) / "slow.xml"
        command = [sys.executable, "-m", "pytest", "-m", "slow", f"--junitxml={junit}", *paths]
        code = subprocess.run(command, cwd=ROOT, check=False).returncode
        day = datetime.now(UTC).date().isoformat()
        head = (
            f"# Long assurance: last figures\n\n{day}, Python {sys.version.split()[0]}, one process"
        )
        PAGE.write_text(f"{head}.\n\n{table(junit)}\n", encoding="utf-8")
    return code


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
