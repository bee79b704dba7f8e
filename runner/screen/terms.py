"""The terms that people meet on screens, sheets and pages, from ``terms.yaml``."""

from functools import cache
from pathlib import Path
from typing import Annotated, Final

from pydantic import Field
from steplatch.safety.catalogue import _

from ..input.strict_yaml import StrictModel, load_model

TERMS_FILE: Final = Path(__file__).with_name("terms.yaml")


class TermGroup(StrictModel):
    """Terms that belong together, with what each means."""

    of: Annotated[str, Field(min_length=3)]
    terms: dict[str, Annotated[str, Field(min_length=10, max_length=200)]]


class TermsFile(StrictModel):
    """The whole file."""

    groups: list[TermGroup]


@cache
def term_groups() -> tuple[TermGroup, ...]:
    """All terms, in the order of the file."""
    return tuple(load_model(TERMS_FILE, TermsFile)[0].groups)


@cache
def terms() -> dict[str, str]:
    """Every term with its meaning."""
    return {_(term): _(said) for group in term_groups() for term, said in group.terms.items()}
