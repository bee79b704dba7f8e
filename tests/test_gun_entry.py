"""What is typed at the gun: its band, the second set of shots, digits, and what is counted."""

from dataclasses import replace

import pytest
from steplatch.runner.core.commands import Answer, Begin
from steplatch.runner.core.draft import No
from steplatch.runner.core.engine import Outcome
from steplatch.runner.core.events import Recorded
from steplatch.runner.core.gun_entry import (
    DOUBTED,
    GunShots,
    doubt_words,
    parse_gun,
    rate_words,
    rates_m3_s,
)
from steplatch.runner.core.job import Job, evolve
from steplatch.runner.core.steps.spray import parse_seconds
from steplatch.safety.bay import Rate

from tests.played import Stands, bundle_from
from tests.test_engine import refused_by


def shots(text: str) -> GunShots:
    got = parse_gun(text, 0.5)
    assert isinstance(got, GunShots), got
    return got


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("19 20 21 mL in 500 s", "the rate of shot 1 is 0.038 mL/s, outside 0.2 to 50"),
        ("19 20 900 mL in 5 s", "the rate of shot 3 is 180 mL/s, outside 0.2 to 50"),
        ("19 20 21 mL in 0.1 s", "outside 0.2 to 50"),
    ],
)
def test_a_typed_rate_stands_under_the_band_of_the_gun_file(text: str, said: str) -> None:
    found = parse_gun(text, 0.5)
    assert isinstance(found, str) and said in found


@pytest.mark.parametrize(
    "text",
    [
        "19 20 21 mL in ٥ s",
        "１９ 20 21 mL in 5 s",
        "19 20 ২১ mL in 5 s",
        "loaded ১৪ mL",
        "loaded 1４ mL",
    ],
)
def test_digits_of_other_scripts_are_refused_in_words(text: str) -> None:
    found = parse_gun(text, 0.5)
    assert isinstance(found, str) and "digits other than 0 to 9: " in found


@pytest.mark.parametrize("text", ["٨", "８ s", "1２"])
def test_seconds_are_typed_in_the_digits_0_to_9(text: str) -> None:
    with pytest.raises(No) as refused:
        parse_seconds(text)
    assert "digits other than 0 to 9" in refused.value.refusals[0].reason


@pytest.mark.parametrize(
    ("text", "beyond", "said"),
    [
        ("19 20 21 mL in 5 s", False, "scatters by up to 6 %."),
        ("18.4 20 21.6 mL in 5 s", True, "these scatter by 8 %. Load a measured volume instead."),
    ],
)
def test_a_rate_says_up_to_which_scatter_its_bound_holds(
    text: str, beyond: bool, said: str
) -> None:
    """By hand: 18.4, 20 and 21.6 have a standard deviation of 1.6, 8 % of their mean."""
    words, warns = rate_words(shots(text).to_json())
    assert said in words and warns is beyond
    assert words.startswith("4.0 mL/s, counted as ")


def test_two_sets_count_together() -> None:
    both = shots("10 11 12 mL in 10 s").after(shots("5 5 6 mL in 5 s"))
    # By hand: 1.0 1.0 1.2 and 1.0 1.1 1.2 mL/s: mean 6.5/6, deviation 0.0983, with 5 % of the mean
    # beforehand sqrt((8 x 0.05417^2 + 5 x 0.0983^2) / 13) = 0.07432; 3.852 x 0.07432 x 1.0801.
    assert both.mean_ml_s == pytest.approx(6.5 / 6)
    assert both.upper_ml_s == pytest.approx(6.5 / 6 + 0.3092, abs=1e-4)
    assert sorted(rates_m3_s(both.to_json())) == pytest.approx(
        [1.0e-6, 1.0e-6, 1.0e-6, 1.1e-6, 1.2e-6, 1.2e-6]
    )
    assert rates_m3_s(shots("5 5 6 mL in 5 s").to_json()) == pytest.approx((1e-6, 1e-6, 1.2e-6))


# -- at the step -----------------------------------------------------------------------------------


def typed(stands: Stands, job: Job, text: str) -> tuple[Outcome, Job]:
    step = job.core.step
    outcome = stands.decide(job, Answer(step, text))
    for event in outcome.events:
        job = evolve(job, event)
    return outcome, job


def doubts(outcome: Outcome) -> list[str]:
    return [
        str(e.value["why"]) for e in outcome.events if isinstance(e, Recorded) and e.name == DOUBTED
    ]


def test_an_unusual_rate_needs_a_second_set_that_agrees(stands: Stands) -> None:
    job = stands.at("gun-rate", begun=True)
    job = replace(job, log=replace(job.log, records=()))
    outcome, job = typed(stands, job, "19 20 21 mL in 50 s")
    assert doubts(outcome) == ["unusual"] and not outcome.refused
    assert job.core.step == "gun-rate" and job.bay.rate is not Rate.MEASURED
    assert job.log.latest("gun") is None
    refused_by(stands.decide(job, Answer("gun-rate", "19 20 21 mL in 50 s")), "same-shots")
    outcome, job = typed(stands, job, "20 20 21 mL in 5 s")
    assert doubts(outcome) == ["disagrees"] and job.core.step == "gun-rate"
    outcome, job = typed(stands, job, "19 20 21 mL in 5 s")
    assert not doubts(outcome) and job.core.step != "gun-rate"
    assert job.bay.rate is Rate.MEASURED
    gun = job.log.latest("gun")
    assert gun is not None and len(rates_m3_s(gun)) == 6


def test_a_rate_far_from_the_last_of_this_gun_needs_a_second_set(stands: Stands) -> None:
    _, job = typed(stands, stands.at("off-spray"), "14 14 14 mL in 5 s")
    gun = job.log.latest("gun")
    assert gun is not None and float(gun["mean_ml_s"]) == pytest.approx(2.8)
    outcome, job = typed(stands, job, "29 28 30 mL in 5 s")
    assert doubts(outcome) == ["jumped"] and job.log.latest("gun") == gun
    refused_by(stands.decide(job, Begin("off-spray", "3")), "spray-rate")
    outcome, job = typed(stands, job, "28 29 30 mL in 5 s")
    assert not doubts(outcome) and job.bay.rate is Rate.MEASURED
    outcome, job = typed(stands, job, "20 20 20 mL in 5 s")
    assert not doubts(outcome), "that doubt is settled; 4.0 is no jump from 5.8"


def test_the_rate_of_the_gun_file_is_the_last_known_one(stands: Stands) -> None:
    job = stands.at("gun-rate", begun=True)
    job = replace(job, log=replace(job.log, records=()))
    assert doubts(typed(stands, job, "19 20 21 mL in 5 s")[0]) == []
    numbers = {**job.log.numbers, "gun_rate_ml_s": "1.9"}
    job = replace(job, log=replace(job.log, numbers=numbers))
    assert doubts(typed(stands, job, "19 20 21 mL in 5 s")[0]) == ["jumped"]


def test_a_bundle_tells_the_mean_of_the_file_where_there_is_one() -> None:
    bundle = bundle_from()
    assert "gun_rate_ml_s" not in bundle.limits_command().numbers
    measured = replace(bundle, gun=replace(bundle.gun, rates_m3_s=(3e-6, 4e-6, 5e-6)))
    assert float(measured.limits_command().numbers["gun_rate_ml_s"]) == pytest.approx(4.0)


def test_a_loaded_volume_needs_no_second_look(stands: Stands) -> None:
    job = stands.at("gun-rate", begun=True)
    _, job = typed(stands, job, "19 20 21 mL in 50 s")
    outcome, job = typed(stands, job, "loaded 14 mL")
    assert not outcome.refused and job.bay.rate is Rate.LOADED


def test_a_burst_of_more_than_15_seconds_is_refused_whatever_the_rate_permits(
    stands: Stands,
) -> None:
    job = stands.at("off-spray")
    _, job = typed(stands, job, "10 10 10 mL in 25 s")
    _, job = typed(stands, job, "10 10 11 mL in 25 s")
    assert job.bay.rate is Rate.MEASURED
    assert not stands.decide(job, Begin("off-spray", "15")).refused
    for seconds in ("15.1", "16", "40"):
        refused = stands.decide(job, Begin("off-spray", seconds)).refusals
        assert [r.interlock for r in refused] == ["spray-off-burst"]


def test_each_doubt_has_words() -> None:
    for why in ("unusual", "jumped", "disagrees"):
        assert "three more shots" in doubt_words({"mean_ml_s": "0.4", "why": why})
