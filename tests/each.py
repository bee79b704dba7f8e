"""Many small cases in one test, all of them tried and every failing one told by its name.

For cells of a table and files of the house: a test of its own costs each of them more than it does.
"""

import functools
import inspect
from collections.abc import Callable, Iterable
from typing import Any


def each(
    names: str | tuple[str, ...], cases: Iterable[Any], ids: Callable[[Any], Any] = str
) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """As ``pytest.mark.parametrize``, in one test. Not for a test that changes what it is given.

    Raises ExceptionGroup: of the failing cases, each with a note that names it.
    """
    keys = [key.strip() for key in names.split(",")] if isinstance(names, str) else list(names)
    rows = [(case,) if len(keys) == 1 else tuple(case) for case in cases]
    assert rows, "a test over nothing"

    def over(test: Callable[..., None]) -> Callable[..., None]:
        @functools.wraps(test)
        def all_of_them(*args: Any, **kwargs: Any) -> None:
            failed: list[Exception] = []
            for row in rows:
                try:
                    test(*args, **kwargs, **dict(zip(keys, row, strict=True)))
                except Exception as error:
                    error.add_note("case: " + "-".join(str(ids(value)) for value in row))
                    failed.append(error)
            if failed:
                raise ExceptionGroup(f"{len(failed)} of {len(rows)} cases", failed)

        signature = inspect.signature(test)
        left = [p for name, p in signature.parameters.items() if name not in keys]
        all_of_them.__signature__ = signature.replace(parameters=left)  # type: ignore[attr-defined]
        return all_of_them

    return over
