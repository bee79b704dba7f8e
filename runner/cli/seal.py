"""``steplatch key``, ``seal``, ``attach`` and ``audit``: what makes a record stand up later."""

import argparse
import secrets
import time
from collections import Counter
from collections.abc import Iterable

from ..core.commands import Note
from ..jobs.auditing import JobAudit, audit_job
from ..jobs.sealing import key_folder, seal_ended
from ..jobs.store import find, job_of, reopen
from ..record import DataFolder, list_jobs
from ..record.attachments import keep_file
from ..record.keys import NoKey, SigningKey
from ..record.seal import is_sealed
from ..screen.talk import has_terminal
from . import exits
from .line import data_folder, data_to_read, fail, print_json, progress, secret

LEAST_PASSPHRASE = 8


# -- key ---------------------------------------------------------------------------------------


def key(args: argparse.Namespace) -> int:
    """Make the workshop's signing key, or show its public half."""
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
    for public in known:
        print(f"{public.short}\n{public.pem.decode()}", end="")
    return exits.OK


def _new_passphrase() -> str:
    if not has_terminal():
        raise NoKey("A passphrase is typed at a terminal, and here is none.")
    first = secret("New passphrase: ")
    if len(first) < LEAST_PASSPHRASE:
        raise NoKey(f"A passphrase has at least {LEAST_PASSPHRASE} characters; nothing was made.")
    if secret("The same again: ") != first:
        raise NoKey("The two are not the same; nothing was made.")
    return first


# -- seal --------------------------------------------------------------------------------------


def seal(args: argparse.Namespace) -> int:
    """Seal jobs that have ended and were not sealed then."""
    data = data_folder(args)
    signing = open_key(data)
    for name in args.job:
        said = seal_ended(find(data, name), signing, "later")
        print(f"{said.job}: sealed {said.made}, {said.lines} lines, key {said.key}")
    return exits.OK


def open_key(data: DataFolder) -> SigningKey:
    """The workshop's key, its passphrase asked for where it has one. Raises NoKey."""
    keys = key_folder(data)
    if not keys.locked():
        return keys.open()
    if not has_terminal():
        raise NoKey("The key needs its passphrase, which is typed at a terminal; here is none.")
    return keys.open(secret("Passphrase of the signing key: "))


# -- attach ------------------------------------------------------------------------------------


def attach(args: argparse.Namespace) -> int:
    """Keep a file with a job that has not ended, and note it in the journal."""
    data = data_folder(args)
    folder = find(data, args.job)
    if is_sealed(folder) or job_of(folder).core.ended:
        return fail(
            exits.FAILED,
            f"{folder.id} has ended: nothing is added to it. Keep the file with the next job.",
        )
    from .practise import rebuilt

    clock, _, _ = rebuilt(folder)
    session = reopen(folder, clock, args.person)
    try:
        kept = keep_file(folder, args.file, args.label, args.clean)
        outcome = session.submit(Note("attachment", kept.to_json()))
    finally:
        session.writer.close()
    if outcome.refused:
        return fail(exits.FAILED, f"{outcome.refusals[0].reason} {outcome.refusals[0].remedy}")
    cleaned = ", metadata taken out" if kept.cleaned else ""
    print(f"{folder.id}: kept {kept.bytes} bytes, {kept.kind}{cleaned}, sha256 {kept.sha256}")
    return exits.OK


# -- audit -------------------------------------------------------------------------------------


def audit(args: argparse.Namespace) -> int:
    """Audit one job, several, or all."""
    data = data_to_read(args)
    if args.all == bool(args.job):
        return fail(exits.USAGE, "name one or more jobs, or say --all")
    folders = list_jobs(data) if args.all else tuple(find(data, name) for name in args.job)
    known = key_folder(data).public_keys()
    audits = (audit_job(folder, known) for folder in folders)
    if len(folders) == 1 and not args.all:
        only = next(audits)
        if args.json:
            print_json(only.to_json())
        else:
            print("\n".join(only.lines()))
        return only.code
    return _many(audits, len(folders), args.json)


def _many(audits: Iterable[JobAudit], count: int, as_json: bool) -> int:
    """Audit one after the other, keeping only what has to be said."""
    begun, lines = time.monotonic(), 0
    say = progress("auditing the jobs") or (lambda done, of: None)
    codes: Counter[int] = Counter()
    plain = []
    for done, one in enumerate(audits, start=1):
        codes[one.code] += 1
        lines += one.result.lines if one.result else 0
        if as_json:
            plain.append(one.to_json())
        elif one.code != exits.OK:
            print(f"{one.job}:")
            print("\n".join(f"  {text}" for text in one.lines()))
        say(done, count)
    seconds = time.monotonic() - begun
    if as_json:
        print_json({"jobs": plain, "lines": lines, "seconds": round(seconds, 3)})
    elif not count:
        print("No job lies in the data folder yet.")
    else:
        wrong = sum(number for code, number in codes.items() if code != exits.OK)
        print(f"{count} jobs, {lines} lines, {seconds:.1f} s: {codes[exits.OK]} good, {wrong} not.")
    for worst in (exits.AUDIT_BROKEN, exits.AUDIT_CANNOT, exits.AUDIT_OLDER):
        if codes[worst]:
            return worst
    return exits.OK
