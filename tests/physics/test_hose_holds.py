"""What a pressure hose holds, as the step says that chooses a dose: by hand, V = pi/4 d^2 l."""

from math import pi

from steplatch.runner.core.loading import load_procedure
from steplatch.runner.input.shelf import PROCEDURES


def test_the_choice_of_a_dose_says_what_a_metre_of_hose_holds() -> None:
    held_ml = pi / 4 * 0.6**2 * 100  # cm
    assert round(held_ml) == 28
    steps = [s for s in load_procedure(PROCEDURES / "clean-above.yaml")[0].steps()
             if s.looks_at == "tier"]  # fmt: skip
    assert len(steps) == 2
    assert all("6 mm bore holds 28 mL" in " ".join((s.why or "").split()) for s in steps)
