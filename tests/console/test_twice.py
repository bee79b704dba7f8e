"""Typed numbers that a limit rests on: no slip of a factor 3 is taken from one typing.

With ``tests/test_usual.py`` (filed numbers) and ``tests/limits/test_gun_rate.py`` (the gun's rate)
these are all the numbers that a limit rests on. The seconds to spray are not among them: what is
typed is what is counted down and what is counted as fluid.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from steplatch.runner.core import commands
from steplatch.runner.core.events import Recorded
from steplatch.runner.core.gun_entry import parse_gun
from steplatch.runner.core.job import Job
from steplatch.runner.core.steps import KINDS, TemperatureStep
from steplatch.runner.input.quantities import BadQuantity, parse_quantity
from steplatch.runner.screen import twice
from steplatch.safety.bay import DoseLimits, Engine, FluidIn, Port

DOSE_ML = 14.0
FACTORS = st.sampled_from([3.0, 10.0, 60.0, 1000.0])


def job_with(wet_dml: int | None = 0, **changed: Any) -> Job:
    job = Job()
    core = replace(job.core, limits=DoseLimits(140, 280, 3000))
    bay = replace(job.bay, wet=wet_dml, fluid_in=FluidIn.YES, **changed)
    return replace(job, core=replace(core, bay=bay))


def with_exhaust(job: Job, celsius: float) -> Job:
    numbers = {"port_cool_k": "368.15", "port_warm_k": "473.15", "touch_k": "316.15",
               "gloved_k": "333.15"}  # fmt: skip
    value = {"typed": "", "k": f"{celsius + 273.15:.1f}", "at_ms": 0, "class": "cool"}
    record = Recorded("exhaust", value, "exhaust", procedure="clean-above")
    return replace(job, log=replace(job.log, numbers=numbers, records=(record,)))


def with_idle(job: Job, celsius: float) -> Job:
    job = with_exhaust(job, celsius)
    plain = {"condition": "idle", "exhaust_k": f"{celsius + 273.15:.1f}"}
    record = Recorded("reading", plain, "reading", procedure="clean-above")
    return replace(job, log=replace(job.log, records=(*job.log.records, record)))


COOL = TemperatureStep.model_construct(id="cool", want=("cool",), kind="temperature")
WARM = TemperatureStep.model_construct(id="warm", want=("cool", "warm"), kind="temperature")


@dataclass(frozen=True)
class Entry:
    """One typed number: usual values, what is said of a typed one, and which slips harm."""

    usual: tuple[float, float]
    odd: Callable[[float], str]
    up: bool = True
    down: bool = True


ENTRIES = {
    # a load typed too small, seconds reported too small: more is in than is counted
    "load": Entry((DOSE_ML / 2.8, DOSE_ML), lambda v: twice.odd_load(
        job_with(), f"loaded {v:.4g} mL", "off"), up=False),
    "load at idle": Entry((300 / 2.8, 300), lambda v: twice.odd_load(
        job_with(), f"loaded {v:.4g} mL", "running"), up=False),
    "seconds sprayed": Entry((6 / 2.8, 6), lambda v: twice.odd_seconds(f"{v:.4g}", "6"), up=False),
    # more in the jug than came out: less is counted than is in
    "drained": Entry((20 / 2.8, 20), lambda v: twice.odd_drained(
        job_with(200), f"drained {v:.6g} mL")),
    # a hot pipe typed as a cool one; up it does not pass
    "temperature": Entry((40.0, 95.0), lambda v: twice.odd_temperature(
        with_exhaust(job_with(port=Port.HOT), 110.0), COOL, f"{v:.6g}"), up=False),
    # a burning filter's inlet typed as one at idle; up it does not pass
    "temperature at idle": Entry((180 / 1.69, 199.0), lambda v: twice.odd_temperature(
        with_idle(job_with(engine=Engine.IDLING), 180.0), WARM, f"{v:.6g}"), up=False),
    # a cold exhaust typed as one that dries
    "exhaust that dries": Entry((120.0, 260.0), lambda v: twice.odd_drying(
        with_exhaust(job_with(), 180.0), f"{v:.6g} degC")),
}  # fmt: skip


@pytest.mark.parametrize("name", ENTRIES)
@given(share=st.floats(0.0, 1.0), factor=FACTORS, up=st.booleans())
def test_no_slip_of_three_or_more_is_taken_from_one_typing(
    name: str, share: float, factor: float, up: bool
) -> None:
    entry = ENTRIES[name]
    low, high = entry.usual
    true = low + share * (high - low)
    assert entry.odd(true) == "", "what is usual is asked once"
    if (up and entry.up) or (not up and entry.down):
        assert entry.odd(true * factor if up else true / factor), (true, factor, up)


@given(st.floats(95.1, 285.0))
def test_a_hot_pipe_is_never_taken_as_cool_from_one_typing(true: float) -> None:
    """Whether nothing was measured before, or what was is known no more, or known still."""
    for port in (Port.UNKNOWN, Port.HOT):
        measured = with_exhaust(job_with(port=port), true)
        assert twice.odd_temperature(measured, COOL, f"{true / 3:.2f}")
    assert not twice.odd_temperature(measured, COOL, "95.5"), "that does not pass"


def test_an_idle_set_says_nothing_of_a_pipe_once_the_engine_stands() -> None:
    for engine in (Engine.STOPPED, Engine.UNKNOWN, Engine.RAISED):
        assert twice.odd_temperature(with_idle(job_with(engine=engine), 180.0), WARM, "161")
    idles = job_with(engine=Engine.IDLING)
    assert not twice.odd_temperature(with_idle(idles, 180.0), WARM, "161")
    assert twice.odd_temperature(with_exhaust(idles, 180.0), WARM, "161"), "no idle set, no band"


def test_what_nothing_is_known_of_is_typed_twice() -> None:
    assert twice.odd_drained(job_with(None), "20 mL")
    assert twice.odd_drying(job_with(), "40 degC") and not twice.odd_drying(job_with(), "180 degC")


@pytest.mark.parametrize("digits", ["٥", "８", "২"])
def test_digits_of_other_scripts_are_refused_wherever_a_limit_rests_on_a_number(
    digits: str,
) -> None:
    for dimension in ("time", "temperature", "volume", "length", "speed", "pressure", "density"):
        unit = {"time": "s", "temperature": "degC", "volume": "mL", "length": "mm",
                "speed": "1/min", "pressure": "mbar", "density": "kg/L"}[dimension]  # fmt: skip
        for text in (f"{digits} {unit}", f"1{digits} {unit}", f"1.{digits} {unit}"):
            with pytest.raises(BadQuantity):
                parse_quantity(text, dimension)
    for text in (f"loaded {digits} mL", f"19 20 2{digits} mL in 5 s"):
        assert isinstance(parse_gun(text, 0.5), str)


def test_every_command_with_a_typed_number_is_here(tmp_path: Path) -> None:
    """A new kind of step or command that takes text is looked at here before it is let in."""
    kinds = {kind.kind_name() for kind in KINDS}
    assert kinds == {"look", "ask", "act", "read", "temperature", "gun", "spray", "wait", "hold",
                     "report", "sign", "judge", "end", "reset", "kept"}  # fmt: skip
    typed = {"Begin", "Answer", "Report", "Correct", "Fill"}  # Fill: by the vehicle, not typed
    assert typed <= {name for name in dir(commands) if name[:1].isupper()}
