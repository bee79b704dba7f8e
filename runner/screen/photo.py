"""A photo kept with the job while it is worked: which file, what it shows, for whose eyes."""

from pathlib import Path

from steplatch.safety.catalogue import _

from ..core.commands import Note
from ..record import RecordError
from .asking import ask_choice, ask_line, submit
from .context import Context
from .talk import Choice

_FOR = [
    Choice("record", _("for the record alone, as it is")),
    Choice("page", _("for the customer's page too, place, time and device taken out")),
]


def keep_photo(on: Context) -> None:
    """Keep a file with the job. A picture for the customer's page is kept cleaned."""
    if on.keep_file is None:
        on.talk.say(_("Photos are kept with a job at a real terminal alone."))
        return
    path = ask_line(on, "photo", _("Type the file, with its folder."))
    label = (
        ask_line(on, "photo:label", _("Type what it shows.")) if path not in (None, "dk") else None
    )
    if path is None or label in (None, "dk"):
        on.talk.say(_("Nothing was kept."))
        return
    whose = ask_choice(on, "photo:for", _("For whom?"), _FOR, turned_by_key=False)
    if whose in (None, "dk"):
        on.talk.say(_("Nothing was kept."))
        return
    try:
        kept = on.keep_file(Path(path).expanduser(), str(label), whose == "page")
    except RecordError as error:
        on.talk.say(_("Not kept: {error}", error=error), "refused")
        return
    if not submit(on, Note("attachment", kept.to_json())).refused:
        where = _("and shown on the customer's page") if kept.page else _("for the record")
        on.talk.say(
            _(
                "KEPT   {label}: {bytes} bytes, {where}",
                label=kept.label,
                bytes=kept.bytes,
                where=where,
            )
        )
