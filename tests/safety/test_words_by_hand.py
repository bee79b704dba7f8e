"""The closed sets that the rules are made of, written out by hand beside the code."""

from steplatch.safety.bay import FACTS, NO_DOSE, DoseLimits, Trip
from steplatch.safety.verify.search import SearchCapped

from tests.each import each

STATES = """
engine stopped idling raised road
idle steady sagging
key on off boxed
starter enabled disabled
start_tried nothing late
bar off on
secured yes part
fumes extraction outdoors door_open nothing
controls other self nobody
hands clear in at_hose
hose on off
gun away coupled open
line clear fluid
port cool warm hot
touch bare gloved hot
burning no yes
oil ok low over thinned
fuel diesel other
coating none approved not_approved nobody_knows
foul no suspected yes
rate measured loaded
sheet read missing
kit worn heat not_worn
lift wheels held not_held
low_loop none held_shut open
flash none flammable
trigger springs stays
stop_start off on
spill ready not_ready
reach clear not_clear
sensor proven alike
identity match differs
crew pair alone_adult alone_junior
arrival dry
agreed measure clean no
triage go warn dont nothing
tier none strict extended
soak running due
run_on running done
hand_turn turned valid retry
inspection dry opened wet
zero good out
before partial good
after partial good
codes saved cleared read_again
fluid_check same other
start_check same other
release_check same other
road ready not_ready
driver licensed not
tag key_tagged do_not_start
fluid_in no yes
recovery checked own
"""


@each("line", STATES.strip().splitlines())
def test_a_fact_is_unknown_or_in_one_of_the_states_written_here(line: str) -> None:
    fact, *names = line.split()
    assert [state.value for state in FACTS[fact]] == ["unknown", *names]


def test_every_fact_is_written_here() -> None:
    assert {line.split()[0] for line in STATES.strip().splitlines()} == set(FACTS)


def test_after_these_trips_a_job_can_only_be_made_safe_and_ended() -> None:
    terminal = {trip.value for trip in Trip if trip.terminal}
    assert terminal == {"fire", "fumes", "injury", "runaway", "hard_turn", "uneven_crank"}


def test_before_any_limit_is_worked_no_dose_is_allowed() -> None:
    assert DoseLimits(strict=0, extended=0, running=0) == NO_DOSE


def test_a_search_without_a_name_says_no_name() -> None:
    assert "in the search of" not in str(SearchCapped(3, 7))
    assert "in the search of 'wet'" in str(SearchCapped(3, 7, "wet"))
