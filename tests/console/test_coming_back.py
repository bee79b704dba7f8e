"""After an interruption the last item is worked again; names are those on the label."""

import pytest
from steplatch.runner.core.commands import Interrupted
from steplatch.runner.screen.context import Context, Keeper, Leave
from steplatch.runner.screen.everywhere import carry_out
from steplatch.runner.screen.guide import show_step

from tests.console.test_dialogues import OnPaper, Typing, _keep
from tests.played import Stands

LABEL = "example aqueous cleaner; data sheet example sheet, revision 3"


@pytest.mark.parametrize(
    ("stood_at", "comes_back_to"),
    [
        ("contact", "customer-name"),
        ("fumes", "down"),
        ("before-lower", "before-raised"),
        ("drains-covered", "flash"),
    ],
)
def test_after_an_interruption_the_last_completed_item_is_worked_again(
    stands: Stands, stood_at: str, comes_back_to: str
) -> None:
    after = stands.after(stands.at(stood_at), Interrupted("closed"))
    assert after.core.step == comes_back_to and not after.core.begun


def test_an_act_is_never_done_twice_for_an_interruption_what_it_left_is_looked_at(
    stands: Stands,
) -> None:
    after = stands.after(stands.at("off-gun"), Interrupted("closed"))
    assert after.core.step == "off-gun", "the spray before it is not repeated"
    assert {"gun", "hose", "engine"} <= set(after.core.ask_again)


@pytest.mark.parametrize("step", ["sheet", "gun-rate", "off-spray", "run-spray"])
def test_the_fluid_is_named_as_on_its_container_wherever_it_is_handled(
    stands: Stands, step: str
) -> None:
    talk = Typing({})
    session = OnPaper(stands, stands.at(step))
    job_id, keeper = "2026-03-02-aaaaaaaa", Keeper(_keep)
    on = Context(session, talk, job_id, keeper, None, carry_out, label=(f"LABEL  {LABEL}",))
    with pytest.raises(Leave):
        show_step(on)
    assert (f"LABEL  {LABEL}", "") in talk.asked[0].lead
