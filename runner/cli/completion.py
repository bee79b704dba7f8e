"""``steplatch completion``: completes commands and options in a shell, made from the parser."""

from __future__ import annotations

import argparse

from steplatch.safety.catalogue import _

from . import exits
from .command import Add

SHELLS = ("bash", "zsh", "tcsh")


def add_to(add: Add) -> None:
    """``completion``."""
    options = add(
        "completion",
        _("print what lets a shell complete commands and options"),
        "steplatch completion bash > ~/.local/share/bash-completion/completions/steplatch",
        completion,
    )
    options.add_argument("shell", choices=SHELLS)


def completion(args: argparse.Namespace) -> int:
    """Print the script for one shell."""
    import shtab

    print(shtab.complete(args.parser, args.shell))
    return exits.OK
