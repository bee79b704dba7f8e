"""What the hazard register says of a hazard."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Hazard:
    """One hazard. ``interlocks`` and ``cautions`` are ids of the other two registers.

    ``source`` says where it is known from that this happens, or that there is no source.
    """

    id: str
    title: str
    harm: str
    who: str
    causes: tuple[str, ...]
    interlocks: tuple[str, ...]
    cautions: tuple[str, ...]
    left_over: str
    only_a_person_can: str
    source: str
