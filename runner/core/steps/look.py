"""Look at one fact and say its state."""

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field
from steplatch.safety.bay import FACTS, Engine, State
from steplatch.safety.catalogue import _
from steplatch.safety.kernel import LOOKED_AT

from ..commands import Look, Report
from ..draft import Draft
from ..procedure import Say
from ..showing import Question
from ..tries import CHOSEN, Standing, Try, classes, findable
from .kind import Kind


class LookStep(Kind):
    """Look at one fact and say its state; passes when the state is in ``want``."""

    kind: Literal["look"]
    fact: str
    want: Annotated[tuple[str, ...], Field(min_length=1)]

    head = "fact"

    takes_min = 0.25
    looked_again = True

    @property
    def looks_at(self) -> str:
        """Its fact."""
        return self.fact

    @property
    def led_back_to(self) -> bool:
        """A look is soon made again."""
        return True

    def settles(self) -> frozenset[str]:
        """The fact looked at; with the key, whether the starter can turn."""
        return frozenset({self.fact, *(("starter",) if self.fact == "key" else ())})

    def seen(self, draft: Draft, fact: str, state: State) -> None:
        """Done when it is found as wanted."""
        if fact == self.fact and state.value in self.want:
            draft.done(state.value)

    def problems(self, say: Say) -> None:
        """A fact that can be settled by looking, and its own states."""
        if self.fact not in LOOKED_AT:
            say(
                ("fact",),
                _("{fact!r} cannot be settled by looking", fact=self.fact),
                _("use one of {looked_at}", looked_at=", ".join(sorted(LOOKED_AT))),
            )
            return
        known = {state.value for state in FACTS[self.fact]} - {"unknown"}
        for k, name in enumerate(self.want):
            if name not in known:
                say(
                    ("want", k),
                    _("{fact} has no state {name!r}", fact=self.fact, name=name),
                    _("use {known}", known=", ".join(sorted(known))),
                )

    def asks(self) -> Question:
        """Which of its states is true."""
        states = (s for s in FACTS[self.fact] if not s.unknown)
        return Question(_("Which is true?"), tuple((s.value, s.said) for s in states))

    def tries_begun(self, at: Standing) -> Iterator[Try]:
        """Every state that an honest look can find; a running engine may be said to stop."""
        others = () if at.scenario.well else classes(at.scenario, self.fact)
        for name in dict.fromkeys((*at.scenario.among(self.fact, self.want), *others)):
            if findable(at.job, self.fact, name):
                kind = "" if self.fact in CHOSEN else "answer"
                yield Try(f"{self.fact} is {name}", Look(self.fact, name), kind=kind)
        runs = frozenset(Engine) - {Engine.STOPPED, Engine.UNKNOWN}
        if self.fact == "engine" and at.job.bay.engine in runs:
            yield Try("report: stopped", Report("stopped"))
