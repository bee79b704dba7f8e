"""One screen per step: what it holds, and how that is laid out on a terminal of any size.

Everything here is plain data and pure functions: a page, a question and a size give rows of text.
What does not fit is divided into parts, cautions first and the question last; the place to type
is always the last row. Look and words are our own.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from rich.cells import cell_len, set_cell_size
from rich.console import Console
from rich.text import Text
from steplatch.safety.catalogue import _

from .screen import caution_texts
from .talk import (
    DONT_KNOW,
    KEYS,
    KEYS_NARROW,
    NARROW,
    PICTURE,
    SMALL,
    WHO,
    Page,
    Prompt,
    StyledLine,
    hang_of,
)

WIDE = 110
"""From this many columns on, what is known and where we are stand in a column of their own."""
SIDE = 38
"""Columns of the narrower side of a wide screen, at least."""
CONTEXT_ROWS = 5
"""Rows that a picture leaves for how things stand."""
STATE_ROWS, LEAST_LINES = 4, 2
"""Rows kept for what is known, and lines of a shared page that are shown at least."""
KEPT_ROWS = 2
"""Rows of how things stand that are kept where everything else fits on one part with the question:
the lines done and to come give way before anything is divided."""
LOWEST = 8
"""On a screen with fewer rows the place bar is left to the help."""
GAP = "  │  "
TYPED_AT = "> "


@dataclass(frozen=True, slots=True)
class ScreenCell:
    """One piece of a row: its text, its style, and the columns that it fills."""

    text: str
    style: str
    width: int


ScreenRow = tuple[ScreenCell, ...]
"""A row of the screen, from left to right."""


@dataclass(frozen=True, slots=True)
class ScreenPart:
    """What stands on the screen at once: rows, then the words that always work, then the line to
    type in. ``number`` of ``of``; only the last takes an answer."""

    rows: tuple[ScreenRow, ...]
    keys: str
    number: int
    of: int

    @property
    def last(self) -> bool:
        """Whether this part asks."""
        return self.number == self.of


@dataclass(frozen=True, slots=True)
class LineBlock:
    """Lines that stay together: of the context, a caution, the why, told, or of a list."""

    kind: str
    lines: tuple[StyledLine, ...]


def parts_of(
    prompt: Prompt, notes: Sequence[StyledLine], columns: int, rows: int, again: bool = False
) -> list[ScreenPart]:
    """The parts that a question needs on a screen of this size, in reading order.

    ``notes`` is what was said since the last answer. ``again``: the reading parts were read, only
    the question stands there once more. Every part but the last ends in "Enter reads on".
    """
    room = max(1, rows - 2)
    small = rows < SMALL or columns < NARROW
    page = prompt.page
    if page is not None and any(
        text.startswith(_("CALL   {visit}", visit=page.visit)) for text, _other in notes
    ):
        page = replace(page, visit="")  # it is called out just now
    wide = page is not None and columns >= WIDE
    width = columns - side_of(columns) if wide else columns
    side = columns - width - len(GAP)
    bar = [] if page is None or rows < LOWEST else [_bar(page, width if wide else columns)]
    room -= len(bar)
    told = [LineBlock("told", tuple(_set([line], width))) for line in notes]
    reading = [] if page is None else _cautions(page, width)
    short = [] if page is None else _reminders(page.cautions, width)
    listed, asking = _asking(prompt, width, room, small, len(short))
    spare = room - len(asking) - sum(len(b.lines) for b in (*reading, *told, *listed)) - STATE_ROWS
    context = [] if page is None or wide else _context(page, width, small, max(LEAST_LINES, spare))
    blocks = _packed(context, [*reading, *told, *listed], asking, short, room, width, again, small)
    keys = keys_for(prompt, columns)
    out = []
    for number, block in enumerate(blocks, start=1):
        body: list[ScreenRow] = [(ScreenCell(text, style, width),) for text, style in block]
        if wide and page is not None:
            body = _beside(body, _side(page, side, room), width, side, room)
        top: list[ScreenRow] = [(ScreenCell(text, style, columns),) for text, style in bar]
        out.append(ScreenPart((*top, *body), keys, number, len(blocks)))
    return out


def page_lines(page: Page, width: int, new: bool = True) -> list[StyledLine]:
    """What stands above the questions of a step, as lines in order; ``new``: the page as well, not
    only the next of its lines."""
    word = _("PRACTICE  ") if page.practice else ""
    out: list[StyledLine] = [("", "context"), (f" {word}{page.place}", "place")]
    out += (
        context_lines(page) if new else [(_("DONE   {t}", t=t), "context") for t in page.done[-1:]]
    )
    for word, body in caution_texts(page.cautions):
        out += [(f" {_(word)}", word), (f"  {body}", "")]
    out += _reminders(page.reminded, width, " ?")
    if page.why or page.reason:
        out.append((_("WHY    {why}", why=page.why or page.reason), ""))
    if new:
        out += [(text, "context") for text in _state(page)]
    return out


def context_lines(page: Page) -> list[StyledLine]:
    """What is done and what comes next on a page."""
    done = page.done[-1:] if not page.shared else page.done
    out = [(_("DONE   {text}", text=text), "context") for text in done]
    return out + [
        (f"{_('THEN') if page.shared else _('NEXT')}   {text}", "context") for text in page.then
    ]


def question_lines(prompt: Prompt) -> list[StyledLine]:
    """All that belongs to a question, in the order in which it is read."""
    live = prompt.live() if prompt.live is not None else ()
    out = [*live, *prompt.lead, *_choices(prompt)]
    text = [(line, "") for line in prompt.asked(False).splitlines()]
    return [*out, *text, *(() if prompt.key == WHO else (*prompt.foot, (KEYS, "")))]


def _choices(prompt: Prompt) -> list[StyledLine]:
    out = [(f"  {n:<2} {c.say}", "") for n, c in enumerate(prompt.choices, start=1)]
    if out and prompt.key != WHO:
        out.append((_("  dk {dont_know}", dont_know=DONT_KNOW), ""))
    return out


def _state(page: Page) -> list[str]:
    """What is known and what is not."""
    open_now = (
        [_("OPEN   not known: {unknown}", unknown=", ".join(page.unknown))] if page.unknown else []
    )
    return [_("KNOWN  {listed}", listed=_listed(page.known) or _nothing(page)), *open_now]


def side_of(columns: int) -> int:
    """Columns that a wide screen takes for its narrower side, gap included; 0 on others."""
    return max(SIDE, columns // 3) + len(GAP) if columns >= WIDE else 0


def keys_for(prompt: Prompt, columns: int) -> str:
    """The words that work at this question."""
    if prompt.key == WHO:
        return _("Esc or s stop")
    return KEYS if columns > cell_len(KEYS) else KEYS_NARROW


def _packed(
    context: list[LineBlock],
    blocks: list[LineBlock],
    asking: list[StyledLine],
    short: list[StyledLine],
    room: int,
    width: int,
    again: bool,
    small: bool,
) -> list[list[StyledLine]]:
    """The lines of each part, in reading order. The question is the last, with as much of what
    stands before it as fits; the rest makes parts of its own, unless it was read (``again``).
    How things stand (the context) has a row each at least, on a small or crowded screen where there
    is room.
    """
    end, left = len(asking), list(blocks)
    whole = end + sum(len(block.lines) for block in left)
    crowded = room - len(context) < whole <= room - KEPT_ROWS
    most = room if small or crowded else room - len(context)
    with_question: list[LineBlock] = []
    while left and end + len(left[-1].lines) <= most:
        block = left.pop()
        with_question.insert(0, block)
        end += len(block.lines)
    read_once = () if again else ("caution", "reminder", "why")
    must = ("told", "list", *read_once)
    parts: list[list[StyledLine]] = []
    for block in left:
        if block.kind not in must:
            continue
        for at in range(0, len(block.lines), room):
            piece = list(block.lines[at : at + room])
            if parts and len(parts[-1]) + len(piece) <= room:
                parts[-1] += piece
            else:
                parts.append(piece)
    lost = sum(block.kind == "caution" for block in left)
    reminders = short[:lost][: max(0, most - end)]
    end += len(reminders)
    top: list[StyledLine] = []
    for number, block in enumerate(context):
        free = room - end - (0 if small else len(context) - number - 1)
        lines = block.lines
        if len(lines) > free:
            lines = tuple(
                (fitted(f"{t} …", width), style) for t, style in lines[: min(1, max(0, free))]
            )
        top += lines
        end += len(lines)
    low = [line for block in with_question for line in block.lines]
    gap: list[StyledLine] = [("", "")] * (room - end)
    return [*parts, [*top, *gap, *reminders, *low, *asking]]


def _bar(page: Page, columns: int) -> StyledLine:
    word = _("PRACTICE  ") if page.practice else ""
    text = f" {word}{page.place if columns >= NARROW else page.short}"
    clock = f" {page.mark} " if columns >= NARROW else ""
    room = columns - cell_len(clock)
    head, comma, step = text.rpartition(_(", step "))  # which step of how many is never cut off
    shown = fitted(head, room - cell_len(comma + step)) + comma + step
    return set_cell_size(shown, room) + clock, "practice" if page.practice else "place"


def _cautions(page: Page, width: int) -> list[LineBlock]:
    """Each caution whole, then the why: what is read before the instruction."""
    out = []
    for word, body in caution_texts(page.cautions):
        lines = ((f" {_(word)}", word), *((t, "") for t in wrapped(f"  {body}", width)))
        out.append(LineBlock("caution", lines))
    out += [LineBlock("reminder", (line,)) for line in _reminders(page.reminded, width, " ?")]
    if page.why:
        out.append(LineBlock("why", tuple(_set([(_("WHY    {why}", why=page.why), "")], width))))
    elif page.reason:
        out.append(
            LineBlock(
                "reason", tuple(_set([(_("WHY    {reason}", reason=page.reason), "")], width))
            )
        )
    return out


def _reminders(cautions: tuple[str, ...], width: int, mark: str = "") -> list[StyledLine]:
    """Each caution in one row; ``mark`` says where the rest of it stands."""
    room = width - len(mark)
    return [
        (fitted(f" {_(word)}  {body}", room) + mark, word) for word, body in caution_texts(cautions)
    ]


def _context(page: Page, width: int, small: bool, room: int) -> list[LineBlock]:
    """What is done and next (``room`` rows of it where lines share the page), then what is known:
    one row each where the screen is small."""
    lines = _nearest(page, 2 if small else room)
    state = _state(page)
    call = [_("CALL   {visit}", visit=page.visit)] if page.visit else []
    if small:
        texts = [*call, *(text for text, _ in lines), *state]
        return [LineBlock("context", ((fitted(t, width), "context"),)) for t in texts]
    out: list[tuple[StyledLine, ...]] = [((fitted(t, width), style),) for t, style in lines]
    out += [tuple(_set([(t, "context")], width)) for t in state]
    out += [tuple(_set([(t, "head")], width)) for t in call]
    return [LineBlock("context", block) for block in out]


def _nearest(page: Page, room: int) -> list[StyledLine]:
    """Of the lines done and to come as many as there is room for: the nearest, of each at least
    one where there is one."""
    lines = context_lines(page)
    at = len(lines) - len(page.then)
    after = min(len(page.then), max(1, room // 2, room - at))
    return lines[max(0, at - max(1, room - after)) : at + after]


def _nothing(page: Page) -> str:
    """What stands where nothing is listed: nothing known, or kept from whoever looks now."""
    return _("nothing of the vehicle yet") if page.unknown else _("not shown: look yourself")


def _listed(known: tuple[tuple[str, str], ...]) -> str:
    return ", ".join(f"{name} {state}" for name, state in known)


def _asking(
    prompt: Prompt, width: int, room: int, small: bool, reminders: int
) -> tuple[list[LineBlock], list[StyledLine]]:
    """The question with all that belongs to it stays together wherever it fits; a list too long
    for that comes before it, in parts."""
    live = prompt.live() if prompt.live is not None else ()
    given = [*live, *prompt.lead]
    lead = [
        (t, style) for t, style in given if not (small and style == "context" and not _is_do(t))
    ]
    choices = _choices(prompt)
    text: list[StyledLine] = [(line, "") for line in prompt.asked(True).splitlines()]
    drawn = [line for line in lead if line[1] == PICTURE]
    lead = [line for line in lead if line[1] != PICTURE]
    head, listed = _set(lead, width), _set(choices, width)
    end = _set([*prompt.foot, *text], width)
    whole = [*head, *listed, *end]
    if small and choices and len(whole) == room + 1:  # 'dk' stands with the keys below as well
        choices, listed = choices[:-1], listed[:-1]
        whole = [*head, *listed, *end]
    if len(whole) <= room:
        fits = len(drawn) + len(whole) + reminders <= room - CONTEXT_ROWS
        shown = drawn if fits and all(cell_len(text) <= width for text, _ in drawn) else []
        return [], [*shown, *whole]
    blocks = [LineBlock("list", tuple(_set([choice], width))) for choice in choices]
    kept = [_set([line], width) for line in lead]
    told = []
    while kept and len(_flat(kept)) + len(end) > room:
        at = min(range(len(kept)), key=lambda n: _stays(kept[n][0]))
        lines = kept.pop(at)
        if not lines[0][0].startswith(LEFT_OUT):
            told.append(LineBlock("list", tuple(lines)))
    return [*told, *blocks], [*_flat(kept), *end][-room:]


FIRST_TO_GO = (
    *(_("USEFUL"), _("READ"), _("COVERS"), _("MEANS"), _("LABEL"), _("TYPED"), _("BY")),
    *(_("LIMIT"), _("USUAL"), _("UNIT"), _("FLUID"), _("TREND")),
)
"""Lines that go to a part of their own, in this order, where the question is too high."""


LEFT_OUT = (_("LABEL"), _("BY"))
"""Lines that help but decide nothing: where there is no room for them they make no part."""


def _stays(line: StyledLine) -> int:
    """How long a line of the question stays with it where room is short."""
    label = line[0].split(" ", 1)[0]
    if label in FIRST_TO_GO:
        return FIRST_TO_GO.index(label)
    return len(FIRST_TO_GO) + (line[1] == "do") + 2 * _is_do(line[0])


def _is_do(text: str) -> bool:
    """Whether a line is the step's instruction: no screen asks without it."""
    return text.startswith(_("DO") + " ")


def _side(page: Page, width: int, room: int) -> list[StyledLine]:
    """The narrower side of a wide screen: the state of things, and the way through the job."""
    state: list[StyledLine] = [(_("KNOWN OF THE VEHICLE"), "head")]
    state += [(fitted(f"  {name:<9} {said}", width), "") for name, said in page.known]
    if not page.known:
        state.append((f"  {_nothing(page)}", ""))
    if page.unknown:
        state += [
            (t, "") for t in wrapped(_("OPEN   {unknown}", unknown=", ".join(page.unknown)), width)
        ]
    state.append(("", ""))
    if page.visit:
        state += [(t, "") for t in wrapped(_("CALL   {visit}", visit=page.visit), width)]
    lines = _nearest(page, max(LEAST_LINES, room // 3))
    state += [(fitted(text, width), "") for text, _ in lines]
    left = room - len(state) - 2
    if left < 3:
        return state[:room]
    here = next((n for n, s in enumerate(page.stages) if s[0] == "now"), 0)
    first = max(0, min(here - left // 2, len(page.stages) - left))
    way: list[StyledLine] = [("", ""), (_("THE WAY"), "head")]
    for mark, title in page.stages[first : first + left]:
        shown = {"done": _("done  "), "now": _("here  "), "left out": _("left  ")}.get(
            mark, "      "
        )
        way.append((fitted(f"  {shown}{title}", width), "do" if mark == "now" else ""))
    return [*state, *way]


def _flat(blocks: list[list[StyledLine]]) -> list[StyledLine]:
    return [line for block in blocks for line in block]


def _beside(
    body: list[ScreenRow], side: list[StyledLine], width: int, side_width: int, room: int
) -> list[ScreenRow]:
    blank = (ScreenCell("", "", width),)
    rows = [*body, *([blank] * (room - len(body)))]
    out: list[ScreenRow] = []
    for number, row in enumerate(rows):
        text, style = side[number] if number < len(side) else ("", "")
        out.append((*row, ScreenCell(GAP, "", len(GAP)), ScreenCell(text, style, side_width)))
    return out


def _set(lines: Iterable[StyledLine], width: int) -> list[StyledLine]:
    return [(text, style) for whole, style in lines for text in wrapped(whole, width)]


@lru_cache(maxsize=1)
def _console() -> Console:
    return Console(width=200)


def wrapped(text: str, width: int) -> list[str]:
    """``text`` broken between words to ``width`` columns, hung under its label or number."""
    hang = hang_of(text)
    if cell_len(text) <= width or hang >= width // 2:
        return [text] if cell_len(text) <= width else _broken(text, width)
    head = text[:hang]
    if "(" in head:  # hung in deeper than it begins
        head = head[: head.index("(")]
    first, *rest = _broken(text[len(head) :], width - hang)
    return [head + first, *(" " * hang + line for line in rest)]


def _broken(text: str, width: int) -> list[str]:
    lines = Text(text).wrap(_console(), max(1, width))
    return [line.plain.rstrip() for line in lines] or [""]


def fitted(text: str, width: int) -> str:
    """``text`` in one row of ``width`` columns, cut with a mark where it is longer."""
    return text if cell_len(text) <= width else set_cell_size(text, width - 1) + "…"
