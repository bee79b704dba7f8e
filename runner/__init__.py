"""The runner. Its language is chosen here, before any table of any room is read."""

import os
import sys

if os.environ.get("STEPLATCH_LANGUAGE"):
    from .system.language import NoCatalogueError, choose_language

    try:
        choose_language(os.environ)
    except NoCatalogueError as error:
        print(f"steplatch: {error}", file=sys.stderr)
        raise SystemExit(2) from None
