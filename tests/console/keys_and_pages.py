"""What a whole clean costs at the terminal: pages, keystrokes, and where go or no-go stands.

``python -m tests.console.keys_and_pages`` works practice jobs through a terminal of 80 by 24,
reading only the screen; after the first the car was here before. It prints what each cost.

A page is what has to be read anew. Lines of one page that are answered one after the other (the
screen says ``line 3 of 8``) are one page, and so is a step that asks the same again (a reading each
minute) or what came of it. Each part of a screen that does not fit is one more, each look that is
asked aside, and what is read back. Every byte typed is a keystroke, Enter too; only the key that
goes on behind a wait over which practice time jumped is none, since a real wait ends by itself.
"""

import re
import sys
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.console.reader import PuzzledError, Reader
from tests.console.terminal import PART, Program

LINE_OF = re.compile(r"line (\d+) of \d+")
ANSWER = re.compile(r"\b(GO AHEAD|NO GO|UNLIKELY|MEASURE MORE)\b|^TRIAGE", re.MULTILINE)
"""What answers whether to go ahead: the first look, or the triage."""
MOST_QUESTIONS = 400
JUMPED = "The time is over."


@dataclass
class Cost:
    """Pages, questions and keystrokes; the page on which go or no-go stood first (0: nowhere)."""

    pages: int = 0
    questions: int = 0
    keys: int = 0
    answer_page: int = 0
    longest: list[tuple[int, str]] = field(default_factory=list)

    def __str__(self) -> str:
        return (
            f"{self.pages} pages, {self.questions} questions, {self.keys} keystrokes, "
            f"go or no-go on page {self.answer_page or 'none'}"
        )


class StaysHere(Reader):
    """Decides against the drive, and so against the third set of readings."""

    def _choice(self, do: str, choices: dict[str, str], *rest: str) -> str:
        here = [number for number, said in choices.items() if said == "not driven today"]
        return here[0] if here else super()._choice(do, choices, *rest)


class Counted(Program):
    """The program at its terminal, with every key and every page counted."""

    cost: Cost

    def send(self, text: str) -> None:
        """Type an answer as the screen asks for it; a part that is read on is a page."""
        if text == "" and self._row().endswith(PART):
            self.cost.pages += 1
        typed = self.typed(text)
        self.cost.keys += 0 if JUMPED in self.text() else len(typed)
        self.press(typed)


def played(data: Path, reader: Reader, columns: int = 80, rows: int = 24) -> Cost:
    """Work one practice job to its end: what it cost."""
    program = Counted(data, "practise", columns=columns, rows=rows)
    program.cost = cost = Cost()
    try:
        program.ready()
        program.send("1")
        before = ("", "", False)
        while cost.questions < MOST_QUESTIONS:
            try:
                screen = program.ready()
            except AssertionError:
                if b"sheet    " in program.raw:
                    return cost
                raise
            cost.questions += 1
            page = page_of(screen)
            cost.pages += page != before
            before = page
            said = program.said()
            if not cost.answer_page and ANSWER.search(said):
                cost.answer_page = cost.pages
            reader.seen.append(said)
            typed = reader.answer(said)
            cost.longest.append((len(typed), f"{typed}   <- {screen.splitlines()[0].strip()}"))
            program.send(typed)
        raise PuzzledError(f"no end:\n{program.text()}")
    finally:
        program.end()


def page_of(screen: str) -> tuple[str, str, bool]:
    """What tells the page of a screen: its bar without line and clock, the instruction where no
    lines share it, and whether something is read back."""
    bar = LINE_OF.sub("", re.sub(r"  +(not )?begun.*", "", screen.splitlines()[0]))
    do = "" if LINE_OF.search(screen) else " ".join(re.findall(r"^DO .*", screen, re.MULTILINE))
    return bar, do, bool(re.search(r"^READ ", screen, re.MULTILINE))


def main() -> None:
    """Print what a new car and a known car cost."""
    with TemporaryDirectory(prefix="steplatch-keys-") as folder:
        for what, reader in (
            ("new car", Reader()),
            ("known car", Reader(been_here=True)),
            ("known car, no drive", StaysHere(been_here=True)),
        ):
            cost = played(Path(folder), reader)
            sys.stdout.write(f"{what:20} {cost}\n")
            if "-v" in sys.argv:
                for length, text in cost.longest:
                    sys.stdout.write(f"  {length:4} {text}\n")


if __name__ == "__main__":
    main()
