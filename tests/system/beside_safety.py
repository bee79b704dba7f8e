"""Installs this program beside an unrelated package called ``safety``, and starts both.

``python -m tests.system.beside_safety``: an environment of its own in a temporary folder, filled by
pip. Exit code 0: neither replaces a file of the other, and the self-test passes.
"""

import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

ROOT: Final = Path(__file__).parents[2]
BOTH: Final = """
import importlib.util, steplatch.safety.interlocks
assert steplatch.safety.interlocks.INTERLOCKS
assert "steplatch" not in importlib.util.find_spec("safety").origin
ours = ("runner", "procedures", "examples")
assert not [name for name in ours if importlib.util.find_spec(name)]
"""


def main() -> int:
    """Install and start both; raises CalledProcessError where something fails."""
    with TemporaryDirectory() as name:
        subprocess.run([sys.executable, "-m", "venv", name], check=True)
        programs = Path(name) / "bin"
        install = [str(programs / "pip"), "install", "--quiet", str(ROOT), "safety"]
        subprocess.run(install, check=True)
        subprocess.run([str(programs / "python"), "-c", BOTH], check=True, cwd=name)
        subprocess.run([str(programs / "steplatch"), "self-test"], check=True, cwd=name)
    return 0


if __name__ == "__main__":
    sys.exit(main())
