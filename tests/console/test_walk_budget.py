"""What the tool adds to a two-hour job is held to the minutes that were reached."""

from steplatch.runner.screen.talk import Prompt

from tests.console.walk_budget import KEYS_MIN, THOUGHT_MIN, WHY, lines, minutes, remains, table


def test_a_whole_job_stays_within_the_minutes_that_were_reached(
    clean_prompts: list[Prompt],
) -> None:
    rows = table(clean_prompts)
    assert len(clean_prompts) > 180, "a whole job was walked"
    print("\n".join(lines(rows) + remains(clean_prompts)))
    for thought, (total, critical) in ((False, KEYS_MIN), (True, THOUGHT_MIN)):
        assert total - 1 < minutes(rows, thought=thought) <= total
        assert critical - 1 < minutes(rows, critical=True, thought=thought) <= critical
    assert len(remains(clean_prompts)) == 1 + len(WHY)


def test_what_the_customer_is_asked_while_he_talks_holds_nobody_up(
    clean_prompts: list[Prompt],
) -> None:
    """Lines that share a page were taken for those of another stage, and counted."""
    of = [p for p in clean_prompts if p.key in ("complaint", "agree-measure", "price")]
    assert len(of) == 3
    assert minutes(table(of), critical=True) == 0 < minutes(table(of))
