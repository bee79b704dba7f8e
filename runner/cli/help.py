"""``steplatch help``: a command, a term, the exit codes; the manual page from the same texts."""

from __future__ import annotations

import argparse
import textwrap

from steplatch.safety.catalogue import _

from . import exits
from .command import Add, fail

WIDTH = 78
CODES = "exit-codes"
TERMS = "terms"
MANUAL = "manual"


def add_to(add: Add) -> None:
    """``help``."""
    options = add(
        "help", _("explain a command, a term or the exit codes"), "steplatch help ledger", help_on
    )
    options.add_argument(
        "topic",
        nargs="*",
        help=_(
            "a command, a term, '{terms}', '{codes}', or '{manual}' for a manual page in roff",
            terms=TERMS,
            codes=CODES,
            manual=MANUAL,
        ),
    )


def help_on(args: argparse.Namespace) -> int:
    """Print what is known of a topic; without one, the topics."""
    from ..screen.terms import terms

    topic = " ".join(args.topic).strip().lower()
    commands = commands_of(args.parser)
    known = {term.lower(): (term, said) for term, said in terms().items()}
    if not topic:
        print("\n".join(_topics(commands)))
    elif topic in commands:
        commands[topic].print_help()
    elif topic in known:
        print("\n".join(_term(*known[topic])))
    elif topic == TERMS:
        print("\n".join(line for pair in terms().items() for line in _term(*pair)))
    elif topic == CODES:
        print("\n".join(f"{code:4}  {said}" for code, said in exits.MEANINGS.items()))
    elif topic == MANUAL:
        print(manual(args.parser), end="")
    else:
        near = sorted(name for name in (*commands, *known) if topic in name or name in topic)
        said = _(" Near it: {near}.", near=", ".join(near)) if near else ""
        return fail(
            exits.USAGE,
            _(
                "no help on {topic!r}.{said} 'steplatch help' lists all topics",
                topic=topic,
                said=said,
            ),
        )
    return exits.OK


def commands_of(top: argparse.ArgumentParser) -> dict[str, argparse.ArgumentParser]:
    """Every command with its parser, other names of a command too."""
    found = next(a for a in top._actions if isinstance(a, argparse._SubParsersAction))
    return dict(found.choices)


def _term(term: str, said: str) -> list[str]:
    return textwrap.wrap(f"{term}: {said}", WIDTH, subsequent_indent="    ")


def _topics(commands: dict[str, argparse.ArgumentParser]) -> list[str]:
    from ..screen.terms import term_groups

    out = [_("Commands:"), *_hung(", ".join(commands)), "", _("Terms:")]
    for group in term_groups():
        out += [f"  {group.of}", *_hung(", ".join(group.terms), "    ")]
    return [*out, "", f"And: {TERMS}, {CODES}, {MANUAL}"]


def _hung(text: str, indent: str = "  ") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=indent)


def manual(top: argparse.ArgumentParser) -> str:
    """The manual page in roff (man-pages(7)): commands with their options, exit codes, terms."""
    from ..screen.terms import terms

    out = [
        '.TH STEPLATCH 1 "" "steplatch" "User commands"',
        ".SH NAME",
        f"steplatch \\- {_roff((top.description or '').rstrip('.'))}",
        ".SH SYNOPSIS",
        ".B steplatch",
        r"[\-\-data FOLDER] COMMAND ...",
        ".SH DESCRIPTION",
        _roff(top.epilog or ""),
        ".SH COMMANDS",
    ]
    done: set[int] = set()
    for name, command in commands_of(top).items():
        if id(command) in done:
            continue
        done.add(id(command))
        out += [".TP", f".B {_roff(name)}", _roff(f"{command.description}. {command.epilog}.")]
        for action in command._actions:
            if action.help and "-h" not in action.option_strings:
                shown = ", ".join(action.option_strings) or action.metavar or action.dest
                out += [".RS", ".TP", f".I {_roff(str(shown))}", _roff(action.help), ".RE"]
    out.append(".SH EXIT STATUS")
    for code, said in exits.MEANINGS.items():
        out += [".TP", f".B {code}", _roff(said)]
    out.append(".SH TERMS")
    for term, said in terms().items():
        out += [".TP", f".B {_roff(term)}", _roff(said)]
    return "\n".join(out) + "\n"


def _roff(text: str) -> str:
    plain = " ".join(text.split()).replace("\\", r"\e").replace("-", r"\-").replace("%%", "%")
    return rf"\&{plain}" if plain[:1] in (".", "'") else plain
