"""What guiding one job carries from question to question."""

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from ..core.clock import Times
from ..core.job import Core, Job
from ..core.steps import ReadStep
from ..jobs.session import Session
from ..jobs.vehicle_readings import VehicleReadings
from ..live.link import Cause
from ..record.attachments import Attachment
from ..simulator.hand import Hand
from ..workshop.pins import PinBook
from .expected import Ranges
from .first_look import FirstLook
from .moments import Read
from .recall import Recall
from .talk import Page, StyledLine, Talk

Doubts = Callable[[Job, ReadStep, str], dict[str, list[str]]]
"""The second looks that a typed set asks for: questions in words, none when nothing is odd."""


class Overtaken(Exception):  # noqa: N818 - it names what happened
    """Time or a trip has moved the job on while a question stood open: what is due is shown."""


class Leave(Exception):  # noqa: N818 - a word that a person says
    """The person leaves; the job can be resumed."""


@dataclass(frozen=True, slots=True)
class Keeper:
    """Keeps a personal value apart and returns what the journal may hold instead."""

    keep: Callable[[str, str], str]


@dataclass(slots=True)
class Context:
    """One person led through one job: what is given, and what stands on the screen.

    ``hand`` works the practice vehicle, None at a real one; ``doubts`` asks for second looks at
    typed readings; ``pins`` is the book that signatures are checked against, none in practice;
    ``ranges`` says what is usually read; ``label`` is the fluid as container and sheet name it;
    ``currency`` is that of a bare price; ``keep_file`` keeps a photo with the
    job; ``lacks`` says which competence that the workshop requires is not there where somebody does
    the work; ``recall`` says what earlier jobs know; ``first_look``
    what one raised set says of the car, after which it is asked whether to go on (``look_only``);
    ``car`` reads from the vehicle itself, where there is a link.

    ``been`` counts how often each place of the job was come to, ``stood`` is the last;
    ``most_returns`` is how often a lesson may come to one (0: a person is told, and may go on).

    ``retyped`` is (key, answer) of a line that was typed where its step had been refused.
    ``lead`` and ``noticed`` stand over the next question; ``live`` gives lines that change while it
    stands open, ``nag`` what is due in it; ``read`` are the cautions that were
    read in full. ``everywhere`` carries out a word that works at every question and says whether
    it was one.
    """

    session: Session
    talk: Talk
    job_id: str
    keeper: Keeper
    hand: Hand | None
    everywhere: "Callable[[Context, str, str], bool]"
    doubts: Doubts | None = None
    pins: PinBook | None = None
    ranges: Ranges | None = None
    label: tuple[str, ...] = ()
    recall: Recall | None = None
    first_look: FirstLook | None = None
    look_only: bool = False
    car: VehicleReadings | None = None
    currency: str = ""
    keep_file: Callable[[Path, str, bool], Attachment] | None = None
    lacks: Callable[[Job, str], str] | None = None
    lead: tuple[StyledLine, ...] = ()
    noticed: tuple[StyledLine, ...] = ()
    page: Page | None = None
    live: Callable[[], tuple[StyledLine, ...]] | None = None
    nag: Callable[[], str] | None = None
    news: str = ""
    begun_at: Times | None = None
    typed: dict[str, str] = field(default_factory=dict)
    measured: str = ""
    announced: bool = False
    read: Read = field(default_factory=Read)
    called: str = ""
    been: Counter[Core] = field(default_factory=Counter)
    stood: Core | None = None
    most_returns: int = 0
    retyped: tuple[str, str] = ("", "")
    car_cause: Cause = Cause.NOT_ASKED
    car_kept: list[str] = field(default_factory=list)
    car_odd: str = ""
    car_trend: tuple[int, str] | None = None
