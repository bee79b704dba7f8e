r"""The record of a job: one file of lines that nobody can change without its showing.

The core (procedure, job, engine) imports nothing from here.

    from . import JournalWriter, read, verify

Each job has a folder with ``journal.jsonl``: one line a command with its outcome. A line is one
JSON object in compact UTF-8, ended by a newline; its first member ``prev`` is the SHA-256 of the
exact bytes of the line before, *newline included* (64 zeros on line 1). The file ``head`` holds
the count and the hash of the last line:

    {"job":"2025-01-31-k3f7qa2m","lines":42,"sha256":"7f3a91c2..."}

So anyone can check a journal without this program, in the job's folder. With a POSIX shell and
``sha256sum``:

    prev=$(printf '%064d' 0); n=0
    while IFS= read -r line; do
        n=$((n + 1))
        case $line in
            "{\"prev\":\"$prev\","*) ;;
            *) echo "line $n does not follow"; exit 1 ;;
        esac
        prev=$(printf '%s\n' "$line" | sha256sum | cut -c 1-64)
    done < journal.jsonl
    case $(cat head) in
        *"\"lines\":$n,\"sha256\":\"$prev\"}") echo "intact: $n lines, $prev" ;;
        *) echo "the head does not fit"; exit 1 ;;
    esac

or with Python:

    import hashlib, json
    prev, n = "0" * 64, 0
    for raw in open("journal.jsonl", "rb"):
        n += 1
        if json.loads(raw)["prev"] != prev:
            raise SystemExit(f"line {n} does not follow")
        prev = hashlib.sha256(raw).hexdigest()
    head = json.load(open("head"))
    if (head["lines"], head["sha256"]) != (n, prev):
        raise SystemExit("the head does not fit")
    print(f"intact: {n} lines, {prev}")

What the chain does not do: whoever can write the folder can write the whole journal anew, head
included. That shows only against a head kept elsewhere, which is why the printed sheet carries
its short form (``short_head``) and ``verify`` takes it (``anchor``).
"""

from ..core.clock import Times, age_ms, times_at, wait_credit_ms
from .clocks import read_clock
from .disk import Disk
from .faults import (
    BadSideFile,
    HeldByAnother,
    JournalBroken,
    JournalFailed,
    LineState,
    NotRecordable,
    RecordError,
)
from .findings import FindingGrade, FindingKind, RecordFinding, Verification
from .folders import (
    DataFolder,
    JobFolder,
    find_data_folder,
    is_job_id,
    job_id,
    job_token,
    list_jobs,
    make_data_folder,
    open_to_others,
)
from .head import Anchor, Head, read_anchor, short_head
from .line import Envelope, Header, JournalLine
from .lock import JobLock
from .personal import (
    Erased,
    FieldCheck,
    FieldState,
    Personal,
    PersonalField,
    SaltedValue,
    bind,
    change_personal,
    compare,
    create_personal,
    erase_personal,
    load_personal,
)
from .verify import read, verify, verify_and_read
from .writer import JournalWriter

__all__ = [
    "Anchor",
    "BadSideFile",
    "DataFolder",
    "Disk",
    "Envelope",
    "Erased",
    "FieldCheck",
    "FieldState",
    "FindingGrade",
    "FindingKind",
    "Head",
    "Header",
    "HeldByAnother",
    "JobFolder",
    "JobLock",
    "JournalBroken",
    "JournalFailed",
    "JournalLine",
    "JournalWriter",
    "LineState",
    "NotRecordable",
    "Personal",
    "PersonalField",
    "RecordError",
    "RecordFinding",
    "SaltedValue",
    "Times",
    "Verification",
    "age_ms",
    "bind",
    "change_personal",
    "compare",
    "create_personal",
    "erase_personal",
    "find_data_folder",
    "is_job_id",
    "job_id",
    "job_token",
    "list_jobs",
    "load_personal",
    "make_data_folder",
    "open_to_others",
    "read",
    "read_anchor",
    "read_clock",
    "short_head",
    "times_at",
    "verify",
    "verify_and_read",
    "wait_credit_ms",
]
