"""What goes wrong at the trigger in a lesson: data, so that the mistake is in plain sight."""

from typing import Annotated

from pydantic import Field

from ..input.strict_yaml import StrictModel


class Slip(StrictModel):
    """How the trigger is really held at the first burst of its kind.

    ``held_s`` seconds instead of those that were permitted; ``past_sag`` keeps on spraying when
    the note of the engine sags.
    """

    held_s: Annotated[float, Field(gt=0, le=600)] | None = None
    past_sag: bool = False
