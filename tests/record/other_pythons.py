"""Plays a job and audits it under each Python there is: ``python -m tests.record.other_pythons``.

Each of 3.11, 3.12 and 3.13 that is found on the path gets an environment of its own in a temporary
folder, with the program installed from this folder by pip; each plays a job, and each audits the
jobs of all. Exit code 0: every audit was good. A Python that is not there, or does not start, is
named and left out; with fewer than two nothing is compared, which is said too.
"""

import shutil
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

VERSIONS: Final = ("3.11", "3.12", "3.13")
ROOT: Final = Path(__file__).parents[2]


def python_of(version: str) -> str | None:
    """The program of this Python on the path, if it starts and is this version."""
    python = shutil.which(f"python{version}")
    said = [python, "-c", "import sys; print('%d.%d' % sys.version_info[:2])"] if python else []
    done = subprocess.run(said, capture_output=True, text=True, check=False) if python else None
    return python if done is not None and done.stdout.strip() == version else None


def main() -> int:
    """Play and audit; the number of audits that were not good, at most 1."""
    with TemporaryDirectory() as name:
        room, programs, jobs, wrong = Path(name), {}, [], 0
        for version in VERSIONS:
            python = python_of(version)
            if python is None:
                print(f"Python {version} is not there")
                continue
            subprocess.run([python, "-m", "venv", str(room / version)], check=True)
            inside = str(room / version / "bin" / "python")
            subprocess.run([inside, "-m", "pip", "install", "--quiet", str(ROOT)], check=True)
            programs[version] = str(room / version / "bin" / "steplatch")
        for version, program in programs.items():
            data = room / f"data-{version}"
            subprocess.run([program, "--data", str(data), "practise", "--hands-free"],
                           check=True, stdout=subprocess.DEVNULL)  # fmt: skip
            jobs += [(version, folder) for folder in (data / "jobs").iterdir()]
        for version, program in programs.items():
            for played, folder in jobs:
                words = [program, "audit", str(folder)]
                code = subprocess.run(words, check=False, stdout=subprocess.DEVNULL).returncode
                wrong += code != 0
                print(f"played by Python {played}, audited by {version}: exit code {code}")
    if len(programs) < 2:
        print("fewer than two Pythons: nothing was compared")
    return min(wrong, 1)


if __name__ == "__main__":
    sys.exit(main())
