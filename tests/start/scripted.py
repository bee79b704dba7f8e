"""A desk that is answered from a list: the words of the plain desk, without a terminal."""

from collections.abc import Iterable

from steplatch.runner.screen.desk import LEAVE, Left, LineDesk

CTRL_C = "\x03"


class OutOfAnswersError(AssertionError):
    """More was asked than the test answers."""


class Scripted(LineDesk):
    """Types ``answers`` one after another; ``said`` keeps all that was shown."""

    def __init__(self, answers: Iterable[str]) -> None:
        super().__init__()
        self.left = list(answers)
        self.said: list[str] = []

    def say(self, text: str = "", style: str = "") -> None:
        """Keep the text."""
        self.said.append(text)

    def all(self) -> str:
        """Everything that was shown, as one text."""
        return "\n".join(self.said)

    def _typed(self, text: str) -> str:
        self.said.append(f"ASKED {text}")
        if not self.left:
            raise OutOfAnswersError("\n".join(self.said[-12:]))
        typed = self.left.pop(0)
        if typed == CTRL_C:
            raise Left
        if typed.lower() == LEAVE:
            raise Left(typed=True)
        return typed
