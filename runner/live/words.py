"""The sentences for the ids of this package, read once from ``words.yaml``."""

from functools import lru_cache
from importlib.resources import files
from typing import cast

from steplatch.safety.catalogue import _

from ..input.strict_yaml import load_text


@lru_cache(maxsize=1)
def _words() -> dict[str, dict[str, str]]:
    name = "words.yaml"
    text = files(__name__.rpartition(".")[0]).joinpath(name).read_text(encoding="utf-8")
    return cast("dict[str, dict[str, str]]", load_text(text, name).data)


def words(kind: str, name: str) -> str:
    """What a person reads for the id ``name`` of ``kind``. Raises KeyError for an unknown one."""
    return _(_words()[kind][name])


def ids(kind: str) -> frozenset[str]:
    """Every id of ``kind`` that has words."""
    return frozenset(_words()[kind])
