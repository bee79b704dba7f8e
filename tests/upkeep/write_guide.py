"""Writes the generated files of ``examples/guide``: the glossary and two invented logs.

python -m tests.upkeep.write_guide
"""

import csv
import io
from pathlib import Path
from random import Random

from steplatch.runner.screen.terms import term_groups

GUIDE = Path(__file__).parents[2] / "examples" / "guide"
HEADINGS = ("t (s)", "dP filter", "Engine speed (1/min)", "Mass air flow (g/s)",
            "Exhaust temperature (degC)", "Coolant (degC)")  # fmt: skip
PARTS = ((70, 0, 0.0, 95), (100, 820, 9.0, 170), (20, 1600, 24.0, 185), (150, 2400, 40.0, 212))
"""Seconds, 1/min, g/s and degC of each part: engine stopped, idle, on the way up, raised."""


def glossary() -> str:
    """The glossary as Markdown."""
    made = "Made from `runner/screen/terms.yaml` by `tests/upkeep/write_guide.py`."
    out = ["# Glossary", "", made]
    for group in term_groups():
        out += ["", f"## {group.of.capitalize()}", "", "| term | meaning |", "|---|---|"]
        out += [f"| **{term}** | {said} |" for term, said in group.terms.items()]
    return "\n".join(out) + "\n"


def log(mbar_per_g_s: float, seed: int) -> str:
    """An invented log of one row a second: a filter of this resistance, whole 0.1 mbar shown."""
    random = Random(f"guide {seed}")
    out = io.StringIO()
    rows = csv.writer(out, lineterminator="\n")
    rows.writerow(HEADINGS)
    second = 0
    for seconds, speed, air, exhaust in PARTS:
        for _ in range(seconds):
            flow = air * (1 + random.gauss(0, 0.004))
            warm = 293.15 / 473.15 * (exhaust + 273.15) / 293.15
            shown = 0.5 + mbar_per_g_s * flow * warm + random.gauss(0, 0.15)
            turns = round(speed + random.gauss(0, 5)) if speed else 0
            rows.writerow((second, f"{shown:.1f}", turns, f"{flow:.1f}", exhaust, 86))
            second += 1
    return out.getvalue()


def files() -> dict[str, str]:
    """Every generated file by its name."""
    return {
        "glossary.md": glossary(),
        "before.csv": log(2.9, 1),
        "after.csv": log(0.6, 2),
    }


if __name__ == "__main__":
    for name, text in files().items():
        (GUIDE / name).write_text(text, encoding="utf-8")
        print(f"written: examples/guide/{name}")
