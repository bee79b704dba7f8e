"""One exit code for each way a command can end; the README's table is checked against this."""

OK = 0
FAILED = 1
USAGE = 2
BAD_FILE = 3
NO_SUCH_JOB = 4
AUDIT_BROKEN = 5
AUDIT_OLDER = 6
RECORD_FAILED = 7
HELD_BY_ANOTHER = 8
NO_TERMINAL = 9
LEFT_OPEN = 10
UNSAFE = 11
AUDIT_CANNOT = 12
AUDIT_UNSEALED = 13
AUDIT_UNKNOWN_KEY = 14
AUDIT_UNLISTED = 15
AUDIT_BESIDE = 16
STOPPED = 130

MEANINGS: dict[int, str] = {
    OK: "done",
    FAILED: "a lesson or command did not reach its end; the text says where",
    USAGE: "the command line was not understood",
    BAD_FILE: "a file is wrong: each finding names file, line, column, key, remedy",
    NO_SUCH_JOB: "no job, or more than one, fits what was typed",
    AUDIT_BROKEN: "audit: the record was changed or forged, or a recorded act broke a rule",
    AUDIT_OLDER: "audit: good, decided under other rules than today's; the text says which part",
    RECORD_FAILED: "the record could not be written or read; the job is held",
    HELD_BY_ANOTHER: "another program has the job open",
    NO_TERMINAL: "a person is needed, but there is no terminal",
    LEFT_OPEN: "the job was left unfinished; 'steplatch resume' comes back to it",
    UNSAFE: "check, self-test: an unsafe state can be reached, or a row fails; the text says how",
    AUDIT_CANNOT: "audit: cannot be decided again here (older form or rules); chain intact",
    AUDIT_UNSEALED: "audit: good, but the job has ended and is not sealed: nobody vouches for it",
    AUDIT_UNKNOWN_KEY: "audit: good, but sealed with a key that this workshop never had",
    AUDIT_UNLISTED: "audit: good, but the workshop's ledger does not know the job",
    AUDIT_BESIDE: "audit: good, but a file beside the record is no part of it, gone or another one",
    STOPPED: "stopped from the keyboard",
}
