"""The tool may add 15 minutes to a two-hour job, and 5 where nothing else goes on meanwhile."""

from steplatch.runner.screen.talk import Prompt

from tests.console.walk_budget import CRITICAL_MIN, TOTAL_MIN, lines, minutes, table

MEASURED_MIN = 8.0
"""With a pause to think at each question on the critical path it came to 7.4 min; a question more
than that pays for is noticed here."""


def test_a_whole_job_stays_within_the_budget_of_added_minutes(clean_prompts: list[Prompt]) -> None:
    rows = table(clean_prompts)
    assert len(clean_prompts) > 180, "a whole job was walked"
    print("\n".join(lines(rows)))
    assert minutes(rows, thought=True) <= TOTAL_MIN
    assert minutes(rows, critical=True) <= CRITICAL_MIN
    assert minutes(rows, critical=True, thought=True) <= MEASURED_MIN
    assert minutes(rows) > CRITICAL_MIN, "it counts something"
