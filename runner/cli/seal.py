"""``steplatch key``, ``seal`` and ``attach``: what makes a record stand up later."""

from __future__ import annotations

import argparse
import secrets
from pathlib import Path
from typing import TYPE_CHECKING

from . import exits
from .command import JOB, Add, data_folder, fail, has_terminal, print_json, secret
from .proving import prove

if TYPE_CHECKING:
    from ..record import DataFolder, JobFolder
    from ..record.attachments import Attachment
    from ..record.keys import SigningKey

LEAST_PASSPHRASE = 8


def add_to(add: Add) -> None:
    """``key``, ``seal`` and ``attach``."""
    options = add(
        "key",
        "the workshop's signing key: make one, show its public half",
        "steplatch key new",
        key,
    )
    acts = options.add_subparsers(dest="act", required=True, metavar="ACT")
    new = acts.add_parser("new", help="make the key that seals jobs when they end")
    new.add_argument("--again", action="store_true", help="in place of the one that is there")
    new.add_argument("--passphrase", action="store_true", help="ask for one, each time it seals")
    show = acts.add_parser("show", help="every public key this workshop had")
    show.add_argument("--json", action="store_true", help="one JSON object")
    options = add(
        "seal", "seal a job that has ended and was not sealed then",
        "steplatch seal abcdefgh --as technician-1", seal,
    )  # fmt: skip
    options.add_argument("job", nargs="+", help=f"{JOB}; several at once")
    options.add_argument("--as", dest="person", required=True, metavar="PERSON", help="who seals")
    options = add(
        "attach",
        "keep a photo, log or freeze frame with a job",
        "steplatch attach abcdefgh photo.jpg --label 'stub before' --as technician-1 --clean",
        attach,
    )
    options.add_argument("job", help=JOB)
    options.add_argument("file", type=Path)
    options.add_argument("--label", required=True, metavar="TEXT", help="what it shows")
    options.add_argument("--as", dest="person", required=True, metavar="PERSON")
    options.add_argument(
        "--clean", action="store_true", help="take place, time and device out of a picture's copy"
    )
    options.add_argument(
        "--page", action="store_true", help="show it on the customer's page too, cleaned so"
    )


def key(args: argparse.Namespace) -> int:
    """Make the workshop's signing key, or show its public half."""
    from ..jobs.ledgers import key_folder

    keys = key_folder(data_folder(args))
    if args.act == "new":
        if keys.is_there() and not args.again:
            return fail(
                exits.FAILED,
                f"{keys.private}: there is a key already. Keep it, or make a new one: --again",
            )
        passphrase = _new_passphrase() if args.passphrase else None
        public = keys.make(secrets.token_bytes(32), passphrase, args.again)
        print(f"Made. Private: {keys.private} (keep a copy where nobody else gets at it).")
        print(f"Public, short form: {public.short}   Write it where customers can see it.")
        return exits.OK
    known = keys.public_keys()
    if not known:
        return fail(exits.FAILED, "No key has been made. Make one: steplatch key new")
    if args.json:
        keys_said = [{"short": one.short, "pem": one.pem.decode()} for one in known]
        print_json("key", {"keys": keys_said})
        return exits.OK
    for public in known:
        print(f"{public.short}\n{public.pem.decode()}", end="")
    return exits.OK


def _new_passphrase() -> str:
    from ..record.keys import NoKey

    if not has_terminal():
        raise NoKey("A passphrase is typed at a terminal, and here is none.")
    first = secret("New passphrase: ")
    if len(first) < LEAST_PASSPHRASE:
        raise NoKey(f"A passphrase has at least {LEAST_PASSPHRASE} characters; nothing was made.")
    if secret("The same again: ") != first:
        raise NoKey("The two are not the same; nothing was made.")
    return first


def seal(args: argparse.Namespace) -> int:
    """Seal jobs that have ended and were not sealed then."""
    from ..jobs.sealing import seal_ended
    from ..jobs.store import find, job_of
    from .closing import write_sheet

    data = data_folder(args)
    prove(args.person, data)
    signing = open_key(data)
    for name in args.job:
        folder = find(data, name)
        said = seal_ended(folder, signing, "later", args.person)
        write_sheet(folder, job_of(folder), args.person)
        print(f"{said.job}: sealed {said.made}, {said.lines} lines, key {said.key}")
    return exits.OK


def open_key(data: DataFolder) -> SigningKey:
    """The workshop's key, its passphrase asked for where it has one. Raises NoKey."""
    from ..jobs.ledgers import key_folder
    from ..record.keys import NoKey

    keys = key_folder(data)
    if not keys.locked():
        return keys.open()
    if not has_terminal():
        raise NoKey("The key needs its passphrase, which is typed at a terminal; here is none.")
    return keys.open(secret("Passphrase of the signing key: "))


def attach(args: argparse.Namespace) -> int:
    """Keep a file with a job: noted in the journal, or after its end beside it, for some days."""
    from ..core.commands import Note
    from ..input.findings import shown
    from ..jobs.store import find, job_of, reopen
    from ..record.attachments import keep_file

    data = data_folder(args)
    folder = find(data, args.job)
    job = job_of(folder)
    if job.core.ended and job.log.practice:
        return fail(exits.FAILED, f"{folder.id}, practice, has ended: nothing is added to it.")
    if not job.log.practice:
        prove(args.person, data)
    if job.core.ended:
        return _attach_late(args, data, folder)
    from .practice_job import rebuilt

    clock, _, _ = rebuilt(folder)
    session = reopen(folder, clock, args.person)
    try:
        if args.person not in {str(one["id"]) for one in session.job.log.people}:
            return fail(exits.FAILED, f"--as {shown(args.person)}: nobody of this id is on the job")
        kept = keep_file(folder, args.file, args.label, args.clean, page=args.page)
        outcome = session.submit(Note("attachment", kept.to_json()))
    finally:
        session.writer.close()
    if outcome.refused:
        return fail(exits.FAILED, f"{outcome.refusals[0].reason} {outcome.refusals[0].remedy}")
    print(_kept_words(folder, kept))
    return exits.OK


def _kept_words(folder: JobFolder, kept: Attachment) -> str:
    cleaned = ", metadata taken out" if kept.cleaned else ""
    return f"{folder.id}: kept {kept.bytes} bytes, {kept.kind}{cleaned}, sha256 {kept.sha256}"


def _attach_late(args: argparse.Namespace, data: DataFolder, folder: JobFolder) -> int:
    """Attach to a job that has ended: in the open, for some days, sealed again."""
    from ..jobs.late import attach_late
    from ..jobs.store import job_of
    from ..record.seal import earlier_seals, is_sealed
    from .closing import write_sheet

    sealed = is_sealed(folder) or bool(earlier_seals(folder))
    signing = open_key(data) if sealed else None
    kept = attach_late(folder, args.file, args.label, args.person, signing, args.clean, args.page)
    write_sheet(folder, job_of(folder), args.person)
    print(_kept_words(folder, kept))
    print(
        f"Attached after the end{', and sealed again' if sealed else ''}; the page is written anew."
    )
    return exits.OK
