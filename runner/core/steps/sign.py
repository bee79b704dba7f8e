"""A signature at a hold or a witness point."""

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Literal

from pydantic import Field
from steplatch.safety.bay import FACTS, HandTurn, state_of
from steplatch.safety.catalogue import _
from steplatch.safety.checks import CHECKS, at_least, nothing_to_read_back
from steplatch.safety.kernel import Happened, Seen
from steplatch.safety.occurrences import Happening

from ..commands import Begin, Sign
from ..draft import Draft, No, refuse
from ..procedure import Say
from ..sign_off import signed, signer, stands
from ..tries import Standing, Try, signature_tries
from .kind import Kind


class SignStep(Kind):
    """A hold point (the named role must sign) or a witness point (told, may go on)."""

    kind: Literal["sign"]
    role: Literal["apprentice", "technician", "supervisor", "customer"]
    meaning: Literal["did", "checked", "released", "agreed", "received"]
    point: Literal["hold", "witness"] = "hold"
    slot: Literal["fluid_check", "start_check", "release_check", "hand_turn"] | None = None
    reads_back: Annotated[tuple[str, ...], Field(max_length=9)] = ()

    head = "role"

    @classmethod
    def fold(cls, plain: Mapping[str, Any]) -> dict[str, Any]:
        """As a file has them, without ``point`` where it is a hold point."""
        return {k: v for k, v in super().fold(plain).items() if (k, v) != ("point", "hold")}

    @property
    def doings(self) -> tuple[str, ...]:
        """The check that is signed; without one, who signs what."""
        return (f"sign {self.slot or f'{self.role} {self.meaning}'}",)

    @property
    def check(self) -> str | None:
        """Its slot."""
        return self.slot

    @property
    def led_back_to(self) -> bool:
        """What it was signed upon may have moved."""
        return True

    def settles(self) -> frozenset[str]:
        """The check, where it is one."""
        return frozenset({self.slot} if self.slot else ())

    def begin(self, draft: Draft, command: Begin) -> None:
        """Set the first mark, once what a check reads back is there."""
        self._ready_to_check(draft)
        draft.add(draft.begun)

    def sign(self, draft: Draft, command: Sign) -> None:
        """Sign it. Raises No when this person may not."""
        one = signer(draft, command)
        self._ready_to_check(draft)
        who = stands(draft, one)
        if self.slot == "hand_turn":
            _turns_seen(draft)
        elif self.slot is not None:
            draft.add(Seen(self.slot, state_of(self.slot, who)))
        draft.add(signed(draft, one, self.meaning, who))
        draft.done(one.person, doer=False)

    def _ready_to_check(self, draft: Draft) -> None:
        """Raises No while what the check reads back is not there: there is nothing to sign."""
        if self.slot is None:
            return
        rule = CHECKS[self.slot]
        refusals = nothing_to_read_back(rule, draft.job.bay, draft.job.core.limits)
        if refusals:
            raise No(*refusals)

    def problems(self, say: Say) -> None:
        """Facts to read back that exist; a check that asks for no less than ``safety.checks``."""
        if self.slot is not None:
            self._check_problems(self.slot, say)
        for k, fact in enumerate(self.reads_back):
            if fact not in FACTS and fact != "wet":
                say(
                    ("reads_back", k),
                    _("no fact {fact!r}", fact=fact),
                    _("use one of {facts}", facts=", ".join(FACTS)),
                )

    def _check_problems(self, slot: str, say: Say) -> None:
        rule = CHECKS[slot]
        roles = [rule.role]
        for crew, least in rule.own.items():
            if any(c.fact == "crew" and c.among == (crew.value,) for c in self.when):
                roles.append(least)
        if not any(at_least(self.role, role) for role in roles):
            say(
                ("role",),
                _(
                    "{role!r} is too weak for {title}: {why}",
                    role=self.role,
                    title=rule.title,
                    why=rule.why,
                ),
                _("name {role!r} or above", role=rule.role),
            )
        if self.point != "hold":
            say(
                ("point",),
                _(
                    "{title} cannot be a {point} point: a witness is told and checks nothing",
                    title=rule.title,
                    point=self.point,
                ),
                _("write 'hold'"),
            )
        if self.meaning != rule.meaning:
            say(
                ("meaning",),
                _(
                    "{title} is signed as {meaning!r}, not as {meaning_2!r}",
                    title=rule.title,
                    meaning=rule.meaning,
                    meaning_2=self.meaning,
                ),
                _("write {meaning!r}", meaning=rule.meaning),
            )

    def tries_begun(self, at: Standing) -> Iterator[Try]:
        """A signature of each kind of person."""
        yield from signature_tries(self.id)


def _turns_seen(draft: Draft) -> None:
    if draft.job.bay.hand_turn is not HandTurn.TURNED:
        raise refuse("checker-is-doer/turns")
    draft.add(Happened(Happening.TURN_SEEN))
