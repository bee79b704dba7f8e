"""Cautions in full once for the same moment of a job, then in one line; DANGER always in full."""

from steplatch.safety.bay import Bay, Engine, FluidIn, Port
from steplatch.safety.registers.cautions import CAUTIONS

ALWAYS = "DANGER"
Moment = tuple[str, str, bool, bool, bool]
"""A caution in a procedure, with the engine standing or not, fluid in or not, the exhaust known to
be cool or not: another of these is another hazard, and is read in full again."""


def moment_of(procedure: str, caution: str, bay: Bay) -> Moment:
    """The moment at which a caution is read."""
    stands, dry = bay.engine is Engine.STOPPED, bay.fluid_in is FluidIn.NO
    return procedure, caution, stands, dry, bay.port is Port.COOL


class Read:
    """Which cautions were read in full, and at which step. A job that is come back to reads
    them anew."""

    def __init__(self) -> None:
        self._at: dict[Moment, str] = {}

    def split(
        self, procedure: str, step: str, cautions: tuple[str, ...], bay: Bay
    ) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """The cautions of ``step`` to be read in full now, and those that were read before."""
        full: list[str] = []
        short: list[str] = []
        for caution in cautions:
            at = self._at.setdefault(moment_of(procedure, caution, bay), step)
            anew = at == step or CAUTIONS[caution].word == ALWAYS
            (full if anew else short).append(caution)
        return tuple(full), tuple(short)
