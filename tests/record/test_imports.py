"""The record stands by itself and is quick to load."""

import subprocess
import sys
from pathlib import Path


def test_the_record_loads_neither_the_engine_nor_any_library() -> None:
    program = "import sys, steplatch.runner.record; print(*sorted(sys.modules))"
    done = subprocess.run(
        [sys.executable, "-c", program],
        cwd=Path(__file__).parents[2],
        capture_output=True, text=True, check=True, timeout=20,
    )  # fmt: skip
    loaded = done.stdout.split()
    own = {name for name in loaded if name.startswith("steplatch.")}
    rooms = {"steplatch.runner", "steplatch.runner.core", "steplatch.runner.core.clock"}
    rooms |= {"steplatch.runner.input", "steplatch.runner.input.findings"}  # words, no library
    rooms |= {"steplatch.safety", "steplatch.safety.catalogue"}  # how a text is looked up
    beside = ("steplatch.runner.record", "steplatch.runner.system")
    assert own - rooms == {n for n in own if n.startswith(beside)}
    assert not {"pydantic", "yaml", "pint", "numpy", "platformdirs"} & set(loaded)
