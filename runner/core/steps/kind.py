"""What every kind of step can do. A kind overrides what it does otherwise."""

from collections.abc import Iterator

from steplatch.safety.bay import State
from steplatch.safety.occurrences import Happening

from ..commands import Begin, Fill, Sign
from ..draft import Draft, refuse
from ..job import Job
from ..procedure import Step
from ..showing import Question, Source
from ..tries import Standing, Try


class Kind(Step):
    """A step as the engine works it; each may raise ``No``, which refuses the command."""

    def begin(self, draft: Draft, command: Begin) -> None:
        """Set the first mark."""
        draft.add(draft.begun)

    def answer(self, draft: Draft, value: str) -> None:
        """Take what was seen, typed or chosen once the step is begun; never empty."""
        raise refuse("answer/no-word")

    def answer_between(self, draft: Draft, value: str) -> None:
        """Take an answer while the step is not begun."""
        raise refuse("two-marks")

    def fill(self, draft: Draft, command: Fill) -> None:
        """Take values that the vehicle itself gave, once the step is begun."""
        raise refuse("fill")

    def sign(self, draft: Draft, command: Sign) -> None:
        """Take a signature."""
        raise refuse("sign")

    def seen(self, draft: Draft, fact: str, state: State) -> None:
        """A person has looked while the step is begun and current."""

    def came_out(self, draft: Draft, what: Happening) -> bool:
        """Take what its permitted act came to, as it should. False where it has no such act."""
        return False

    def permit_lapsed(self, draft: Draft) -> None:
        """The permit of the act that is under way has lapsed with time."""

    def limit_lines(self, job: Job, source: Source) -> tuple[str, ...]:
        """The limits that it stands under, once they are worked: number, unit, source."""
        return ()

    def asks(self) -> Question | None:
        """What it asks once it is begun; None where its dialogue is more than one question."""
        return None

    def tries(self, at: Standing) -> Iterator[Try]:
        """What the proof tries while it is not begun."""
        yield Try("begin", Begin(self.id))

    def tries_begun(self, at: Standing) -> Iterator[Try]:
        """What the proof tries once it is begun."""
        yield from ()
