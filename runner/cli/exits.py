"""One exit code for each way a command can end; the README's table is checked against this."""

from steplatch.safety.catalogue import _

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
    FAILED: _("a lesson or command did not reach its end; the text says where"),
    USAGE: _("the command line was not understood"),
    BAD_FILE: _("a file is wrong: each finding names file, line, column, key, remedy"),
    NO_SUCH_JOB: _("no job, or more than one, fits what was typed"),
    AUDIT_BROKEN: _("audit: the record was changed or forged, or a recorded act broke a rule"),
    AUDIT_OLDER: _("audit: good, decided under other rules than today's; the text says which part"),
    RECORD_FAILED: _("the record could not be written or read; the job is held"),
    HELD_BY_ANOTHER: _("another program has the job open"),
    NO_TERMINAL: _("a person is needed, but there is no terminal"),
    LEFT_OPEN: _("the job was left unfinished; 'steplatch resume' comes back to it"),
    UNSAFE: _(
        "check, self-test: an unsafe state can be reached, or a row fails; the text says how"
    ),
    AUDIT_CANNOT: _("audit: cannot be decided again here (older form or rules); chain intact"),
    AUDIT_UNSEALED: _(
        "audit: good, but the job has ended and is not sealed: nobody vouches for it"
    ),
    AUDIT_UNKNOWN_KEY: _("audit: good, but sealed with a key that this workshop never had"),
    AUDIT_UNLISTED: _("audit: good, but the workshop's ledger does not know the job"),
    AUDIT_BESIDE: _(
        "audit: good, but a file beside the record is no part of it, gone or another one"
    ),
    STOPPED: _("stopped from the keyboard"),
}
