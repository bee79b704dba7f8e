"""What many jobs say together: exact intervals, return visits, and texts that stay texts."""

import json
import random
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from scipy.stats import binomtest
from steplatch.runner.cli import exits
from steplatch.runner.cli.main import main
from steplatch.runner.jobs.book import BOOK_NAME, JobBook
from steplatch.runner.jobs.digest import JobRow
from steplatch.runner.jobs.facts import JobFacts
from steplatch.runner.jobs.intervals import FEW, exact_interval
from steplatch.runner.jobs.questions import BEGUN, CELLS, QUESTIONS, SCHEMA, Answer, put_facts
from steplatch.runner.record import (
    DataFolder,
    Erased,
    JobLock,
    PersonalField,
    create_personal,
    erase_personal,
)
from steplatch.runner.sheet.book_page import book_page
from steplatch.runner.sheet.html_page import to_html

from tests.book.small_jobs import DISK, data_in, ended, moved, recorded, small_job
from tests.played import Played

EVIL = ("'; DROP TABLE job_fact; --", '=HYPERLINK("x")', "<script>alert(1)</script>", "%s %(id)s ?")


@pytest.mark.parametrize(
    ("successes", "of"),
    [
        (0, 1),
        (1, 1),
        (0, 10),
        (1, 10),
        (5, 10),
        (9, 10),
        (10, 10),
        (3, 47),
        (99, 198),
        (99, 10_000),
        (100, 10_000),
        (101, 200),
        (199, 200),
        (250, 1000),
        (40_123, 200_000),
        (999_900, 1_000_000),
    ],
)
def test_an_interval_is_the_one_of_a_reference_library(successes: int, of: int) -> None:
    """SciPy 1.x, scipy.stats.binomtest(...).proportion_ci(method="exact"): Clopper and Pearson."""
    wanted = binomtest(successes, of).proportion_ci(confidence_level=0.95, method="exact")
    assert exact_interval(successes, of) == pytest.approx((wanted.low, wanted.high), abs=1e-10)


def test_of_no_success_the_bound_is_the_closed_form_and_of_none_all_is_open() -> None:
    assert exact_interval(0, 20)[1] == pytest.approx(1 - 0.025 ** (1 / 20), abs=1e-12)
    assert exact_interval(0, 0) == (0.0, 1.0)
    low, high = exact_interval(500_000, 1_000_000)
    assert low < 0.5 < high and high - low < 0.002
    with pytest.raises(ValueError, match="no share"):
        exact_interval(3, 2)


def answers_of(data: DataFolder, kind: str = "real") -> dict[str, Answer]:
    with JobBook.open(data) as book:
        book.sync()
        return {one.id: one for one in book.answers(kind)}


def visit(data: DataFolder, job: str, verdict: str, plate: str = "EXAMPLE 7") -> None:
    folder = small_job(data, job, [recorded("verdict", state=verdict, gains={}), ended()])
    with JobLock.take(folder, DISK) as lock:
        create_personal(lock, {PersonalField.REGISTRATION: plate}, DISK)


def test_a_played_job_is_counted_by_its_verdict_gain_and_fluid(good: Played) -> None:
    data = DataFolder(good.folder.path.parent.parent, "the test")
    verdict = good.session.job.log.latest("verdict")
    assert verdict is not None
    found = answers_of(data, "practice")
    assert [r[:2] for r in found["success-procedure"].rows if r[0] == "clean-above"] == [
        ("clean-above", 1)
    ]
    gains = {row[0]: row[2] for row in found["gain-duty"].rows}
    assert gains["town"] == pytest.approx(float(verdict["gains"]["after"]["percent"]), abs=0.05)
    sprays = good.session.job.log.every("spray")
    (fluid,) = (row for row in found["fluid"].rows if row[0] == "clean-above")
    assert fluid[2] == pytest.approx(sum(s["reserved_dml"] for s in sprays) / 10, abs=0.05)


def test_a_car_that_came_back_is_counted_to_the_verdict_it_left_with(quick: Path) -> None:
    data = data_in(quick)
    visit(data, "2026-01-01-aaaaaaaa", "as_expected")
    visit(data, "2026-03-02-bbbbbbbb", "not_improved", "ex-ample 7")
    visit(data, "2026-03-05-cccccccc", "as_expected", "OTHER 1")
    visit(data, "2025-01-01-dddddddd", "as_expected", "OTHER 1")  # more than a year before
    rows = {row[0]: row[1:] for row in answers_of(data)["returns"].rows}
    assert rows == {"as_expected": (3, 1, 1, 60.0), "not_improved": (1, 0, 0, None)}
    first = data.job("2026-01-01-aaaaaaaa")
    with JobLock.take(first, DISK) as lock:
        record = Erased("supervisor-1", "2026-03-10T00:00:00Z", "asked")
        erase_personal(lock, [PersonalField.REGISTRATION], record, DISK)
    rows = {row[0]: row[1:] for row in answers_of(data)["returns"].rows}
    assert rows["as_expected"] == (2, 0, 0, None), "an erased car is not known again"


def test_a_visit_between_two_others_is_the_next_one_until_it_is_gone(quick: Path) -> None:
    data = data_in(quick)
    for job, day in (("aaaaaaaa", "01"), ("cccccccc", "21")):
        visit(data, f"2026-01-{day}-{job}", "as_expected")
    assert answers_of(data)["returns"].rows == (("as_expected", 2, 1, 1, 20.0),)
    visit(data, "2026-01-11-bbbbbbbb", "as_expected")
    assert answers_of(data)["returns"].rows == (("as_expected", 3, 2, 2, 10.0),)
    middle = data.job("2026-01-11-bbbbbbbb").path
    middle.rename(middle.with_name("gone"))
    assert answers_of(data)["returns"].rows == (("as_expected", 2, 1, 1, 20.0),)


def test_visits_of_one_day_stand_in_the_order_in_which_they_were_begun() -> None:
    with closing(sqlite3.connect(":memory:")) as database:
        database.executescript(SCHEMA + BEGUN)
        for token, hour in (("zzzzzzzz", "08"), ("aaaaaaaa", "10"), ("mmmmmmmm", "15")):
            facts = JobFacts(day=739_000, month="2024-04", car="CAR1")
            begun = f"2024-04-19T{hour}:00:00.000Z"
            row = JobRow(f"2024-04-19-{token}", "real", "finished", begun=begun, facts=facts)
            put_facts(database.execute, row)
        read = "SELECT substr(id, 12, 1), back_days FROM job_fact ORDER BY begun"
        assert database.execute(read).fetchall() == [("z", 0), ("a", 0), ("m", None)]


def test_the_tally_is_what_counting_every_job_anew_gives(quick: Path) -> None:
    """Kept by triggers, through jobs that come, go, change and are erased, in a random order."""
    data, draw = data_in(quick), random.Random(25)
    verdicts = ("as_expected", "not_improved", "cannot_say")
    ids = [f"2026-{1 + n % 12:02}-{1 + n % 28:02}-aaaaaaaa" for n in range(24)]
    for job in draw.sample(ids, len(ids)):
        visit(data, job, draw.choice(verdicts), f"CAR {draw.randrange(4)}")
        answers_of(data)
    for job in draw.sample(ids, 8):
        data.job(job).path.rename(data.path / f"gone-{job}")
        answers_of(data)
    with closing(sqlite3.connect(data.path / BOOK_NAME)) as database:
        read = "SELECT * FROM tally WHERE jobs <> 0 ORDER BY kind, question, a, b, c"
        kept = database.execute(read).fetchall()
        database.execute("DELETE FROM tally")
        for table, cells in CELLS:
            for cell in cells:
                database.execute(cell.rebuilt(table))
        assert kept == database.execute(read).fetchall()
        assert len({row[2] for row in kept}) >= 4


@pytest.mark.parametrize("evil", EVIL)
def test_what_looks_like_sql_a_formula_or_a_page_stays_text(quick: Path, evil: str) -> None:
    data = data_in(quick)
    lines = [moved("look"), recorded("verdict", state=evil), recorded("duty", choice=evil)]
    small_job(data, "2026-01-01-aaaaaaaa", lines, [ended()])
    verdicts = answers_of(data)["verdicts"]
    assert verdicts.rows == ((evil, 1),)
    cell = verdicts.to_csv().decode("utf-8-sig").splitlines()[1]
    assert not cell.lstrip('"').startswith("=")
    assert "<script>" not in to_html(book_page([verdicts], evil, "2026-01-02", "real"), "technical")
    assert answers_of(data)["verdicts"].rows == ((evil, 1),)


def test_small_numbers_say_so_and_the_page_has_a_picture_of_every_share(quick: Path) -> None:
    data = data_in(quick)
    for number in range(FEW + 1):
        verdict = "as_expected" if number < FEW else "cannot_say"
        visit(data, f"2026-01-{number + 1:02}-aaaaaaaa", verdict, f"CAR {number}")
    found = answers_of(data)
    assert found["verdicts"].few == (False, True)
    page = to_html(book_page(tuple(found.values()), "this bay", "2026-02-01", "real"), "technical")
    shares = [q for q in QUESTIONS if q.share is not None]
    assert page.count("data:image/svg+xml") == len(shares) == 3
    assert "cannot say *" in page


def test_no_question_is_about_a_person() -> None:
    for question in QUESTIONS:
        assert not {"who", "person", "people", "actor"} & set(question.sql.lower().split())


def test_the_command_answers_as_text_json_csv_and_page(
    quick: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    data = data_in(quick)
    visit(data, "2026-01-01-aaaaaaaa", "as_expected")
    words = ["--data", str(data.path), "book"]
    assert main([*words, "answers", "verdicts", "--json"]) == exits.OK
    (answer,) = json.loads(capsys.readouterr().out)["answers"]
    assert answer["rows"] == [{"verdict": "as_expected", "jobs": 1, "few": True}]
    assert main([*words, "answers"]) == exits.OK
    assert "as expected *" in capsys.readouterr().out
    assert main([*words, "answers", "--csv", str(quick / "csv")]) == exits.OK
    assert len(list((quick / "csv").glob("*.csv"))) == len(QUESTIONS) == 10
    assert main([*words, "page", str(quick / "book.html")]) == exits.OK
    assert main([*words, "answers", "who-is-worst"]) == exits.USAGE
