"""Ask for a text, a number, several numbers on one line, or one of several named answers."""

import difflib
from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Literal

from pydantic import Field
from steplatch.safety.catalogue import _, spoken

from ...input.model_findings import KeyPath
from ...input.quantities import DIMENSIONS, BadQuantity, parse_number, parse_quantity
from ...input.resolution import taken
from ..commands import Answer
from ..draft import Draft, refuse
from ..procedure import Say, StepText, Strict, Unfolded
from ..showing import Question
from ..tries import CHOSEN, Standing, Try
from .kind import Kind

YEARS = "years"
QUANTITIES = (*DIMENSIONS, YEARS)
"""What a number may be asked for as: a kind of quantity that has units here, or an age in years."""
COUNT = "count"
"""What is counted: a field of a line, without a unit."""
NOT_SHOWN, NONE = "x", ("none", "none shown")
"""A field that the instrument does not show, and a whole line of which it shows nothing."""
NOT_KNOWN = "not known"
"""A number that nobody knows is an answer: what rests on it then says less."""
RESERVED = frozenset(
    {"s", "stop", "leave", "back", "event", "ahead", "aside", "fix", "na", "join", "over", "gone"}
    | {"dk", "write", "photo"}
)
"""Words that work at every question: no answer can have such a name."""
MAX_YEARS = 60
MOST_COUNTED = 1_000_000
LEAST_TEXT = 2


class Option(Strict):
    """One answer of a choice: its name in the record and the words on the screen."""

    value: Annotated[str, Field(pattern=r"^[a-z][a-z0-9_-]{1,39}$")]
    say: StepText


class LineField(Strict):
    """One number of a line: its name in the record, and the quantity that it is."""

    name: Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]{1,39}$")]
    quantity: str

    @property
    def unit(self) -> str:
        """The unit that is taken where none is typed: the one that the trade reads."""
        return "" if self.quantity == COUNT else DIMENSIONS[self.quantity].trade

    @property
    def said(self) -> str:
        """Its name in words, with that unit."""
        return f"{spoken(self.name)} {self.unit}".rstrip()


class AskStep(Kind):
    """Ask for a text, a number with its unit, ``fields`` (numbers on one line, in their order, each
    in the trade's unit where none is typed), or one of several named answers.

    With ``may_not_apply`` it may be left, with a reason and a name; never where a later ``when``
    reads the answer. With ``want`` only those answers of a choice pass; another one is recorded
    and the step stays.
    """

    kind: Literal["ask"]
    name: Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]{1,39}$")]
    form: Literal["text", "number", "choice", "fields"]
    quantity: str | None = None
    low: str | None = None
    high: str | None = None
    options: tuple[Option, ...] = ()
    fields: tuple[LineField, ...] = ()
    want: tuple[str, ...] = ()
    personal: bool = False
    may_not_apply: bool = False

    takes_min = 0.3
    looked_again = True
    may_be_offered = True

    @classmethod
    def own_keys(cls) -> tuple[str, ...]:
        """``ask`` (text, choice, fields or a quantity), what belongs to it, and the others."""
        return ("ask", "name", "answers", "between", "fields", "want", "personal", "may_not_apply")

    @classmethod
    def unfold(cls, written: Mapping[str, Any]) -> Unfolded:
        """``ask`` says the form and the quantity, ``answers`` the options, ``between`` the band;
        the name is the step's id where none is given."""
        told = ("ask", "answers", "between", "fields")
        data = {k: v for k, v in written.items() if k not in told}
        moved: dict[KeyPath, KeyPath] = {("form",): ("ask",)}
        if written["ask"] in ("text", "choice", "fields"):
            data["form"] = written["ask"]
        else:
            data |= {"form": "number", "quantity": written["ask"]}
            moved["quantity",] = ("ask",)
        if isinstance(answers := written.get("answers"), dict):
            data["options"] = [{"value": value, "say": said} for value, said in answers.items()]
            moved["options",] = ("answers",)
            for k, value in enumerate(answers):
                moved["options", k] = moved["options", k, "say"] = ("answers", value)
        elif "answers" in written:
            data["options"], moved["options",] = written["answers"], ("answers",)
        if isinstance(of_line := written.get("fields"), dict):
            data["fields"] = [{"name": name, "quantity": q} for name, q in of_line.items()]
            for k, name in enumerate(of_line):
                moved["fields", k] = moved["fields", k, "quantity"] = ("fields", name)
        elif "fields" in written:
            data["fields"] = of_line
        if "between" in written:
            band = written["between"]
            low, high = band if isinstance(band, list) and len(band) == 2 else (band, band)
            data |= {"low": low, "high": high}
            moved |= {("low",): ("between", 0), ("high",): ("between", 1)}
        return Unfolded(data, moved)

    @classmethod
    def fold(cls, plain: Mapping[str, Any]) -> dict[str, Any]:
        """As a file has them."""
        form = plain["form"]
        out: dict[str, Any] = {"ask": plain.get("quantity") if form == "number" else form}
        if plain["name"] != plain["id"].replace("-", "_"):
            out["name"] = plain["name"]
        if plain.get("options"):
            out["answers"] = {option["value"]: option["say"] for option in plain["options"]}
        if plain.get("fields"):
            out["fields"] = {field["name"]: field["quantity"] for field in plain["fields"]}
        if "low" in plain and "high" in plain:
            out["between"] = [plain["low"], plain["high"]]
        return out | {key: plain[key] for key in cls.own_keys()[5:] if key in plain}

    @property
    def doings(self) -> tuple[str, ...]:
        """The question, by its name."""
        return (f"ask {self.name}",)

    @property
    def gives(self) -> str:
        """The name that it is asked for."""
        return self.name

    @property
    def may_be_left(self) -> bool:
        """Where the file says that it may not apply."""
        return self.may_not_apply

    def settles(self) -> frozenset[str]:
        """The choice, under its name."""
        return frozenset({self.name})

    def answer(self, draft: Draft, value: str) -> None:
        """Record what was typed or chosen."""
        draft.record(self.name, self.recorded(value))
        if not self.want or value in self.want:
            draft.done(value)

    def recorded(self, value: str) -> dict[str, Any]:
        """What an answer is recorded as. Raises No when it is none."""
        if self.form == "choice":
            known = [option.value for option in self.options]
            if value not in known:
                raise refuse("answer/choice", typed=value, choices=tuple(known))
            return {"choice": value}
        if self.form == "text":
            if len(value) < LEAST_TEXT:
                raise refuse("answer/short", typed=value)
            return {"text": value}
        if self.form == "fields":
            return {"typed": value, "fields": self._line(value)}
        if value == "dk":
            return {"typed": NOT_KNOWN}
        if self.quantity == YEARS:
            return _years(value)
        try:
            quantity = parse_quantity(value, self.quantity or "")
            low = None if self.low is None else parse_quantity(self.low, self.quantity or "")
            high = None if self.high is None else parse_quantity(self.high, self.quantity or "")
        except BadQuantity:
            raise refuse("number", typed=value, quantity=self.quantity or "") from None
        under = low is not None and quantity.si_value < low.si_value
        if under or (high is not None and quantity.si_value > high.si_value):
            raise refuse("band", typed=value, low=self.low or "", high=self.high or "")
        return {"typed": value, **taken(self.quantity or "", quantity.si_value)}

    def _line(self, typed: str) -> list[dict[str, str]]:
        """The fields that are shown, each as it was typed and as it is recorded. Raises No."""
        items = [] if typed.lower() in NONE else typed.split()
        wrong = refuse("fields", typed=typed, fields=tuple(f.said for f in self.fields))
        if len(items) > len(self.fields):
            raise wrong
        shown = []
        for field, item in zip(self.fields, items, strict=False):
            if item.lower() == NOT_SHOWN:
                continue
            try:
                if field.quantity == COUNT:
                    number = {"quantity": COUNT, COUNT: _count(item)}
                else:
                    quantity = parse_quantity(item, field.quantity, field.unit)
                    number = taken(field.quantity, quantity.si_value)
            except BadQuantity:
                raise wrong from None
            shown.append({"name": field.name, "typed": item, **number})
        return shown

    def problems(self, say: Say) -> None:
        """Enough options for a choice; a quantity for a number, with bounds that are such."""
        if self.form == "choice" and len(self.options) < 2:
            say(("form",), _("a choice needs at least two options"), _("add 'options'"))
        if (self.form == "fields") != bool(self.fields):
            say(
                ("fields",),
                _("'ask: fields' and 'fields' belong together"),
                _("write both, or neither"),
            )
        for k, field in enumerate(self.fields):
            if field.quantity not in (*DIMENSIONS, COUNT):
                known = ", ".join((*DIMENSIONS, COUNT))
                say(
                    ("fields", k),
                    _("there is no quantity {quantity!r}", quantity=field.quantity),
                    f"known: {known}",
                )
        for k, option in enumerate(self.options):
            if option.value in RESERVED:
                problem = _("{value!r} is a word that works at every question", value=option.value)
                say(("options", k), problem, _("give this answer another name"))
        for k, name in enumerate(self.want):
            if name not in {option.value for option in self.options}:
                say(
                    ("want", k),
                    _("no option {name!r}", name=name),
                    _("name an answer of 'options'"),
                )
        if self.want and self.may_not_apply:
            say(
                ("may_not_apply",),
                _("a step with 'want' waits for its answer"),
                _("remove one of them"),
            )
        given = {k: v for k in ("quantity", "low", "high") if (v := getattr(self, k)) is not None}
        if self.form != "number":
            for key in given:
                problem = _(
                    "{key!r} belongs to a number; this asks for a {form}", key=key, form=self.form
                )
                say((key,), problem, _("remove it"))
        elif self.quantity is None:
            remedy = _("add 'quantity': {quantities}", quantities=", ".join(QUANTITIES))
            say(("form",), _("a number needs its quantity"), remedy)
        elif self.quantity not in QUANTITIES:
            near = difflib.get_close_matches(self.quantity.lower(), QUANTITIES, n=1)
            hint = _('did you mean "{near}"? ', near=near[0]) if near else ""
            say(
                ("quantity",),
                _("there is no quantity {quantity!r}", quantity=self.quantity),
                f"{hint}known: {', '.join(QUANTITIES)}",
            )
        else:
            self._bounds(given, say)

    def _bounds(self, given: dict[str, str], say: Say) -> None:
        bounds: dict[str, float] = {}
        for key in ("low", "high"):
            text = given.get(key)
            if text is not None and self.quantity == YEARS:
                say((key,), _("an age in years has its own bounds"), _("remove it"))
            elif text is not None:
                try:
                    bounds[key] = parse_quantity(text, self.quantity or "").si_value
                except BadQuantity as bad:
                    say((key,), bad.problem, bad.remedy)
        if len(bounds) == 2 and bounds["low"] > bounds["high"]:
            say(
                ("low",),
                _("{low} lies above {high}", low=self.low, high=self.high),
                _("swap them, or correct one"),
            )

    def asks(self) -> Question:
        """One of its options, or what is to be typed."""
        if self.form == "choice":
            return Question(_("Which is it?"), tuple((o.value, o.say) for o in self.options))
        if self.form == "text":
            return Question(_("Type it in words."))
        if self.form == "fields":
            line = ", ".join(field.said for field in self.fields)
            return Question(_("One line: {line}; x = not shown, none = none of it.", line=line))
        if self.quantity == YEARS:
            return Question(_("Type the number of years, e.g. 6."))
        band = (
            _(", {low} to {high}", low=self.low, high=self.high) if self.low and self.high else ""
        )
        return Question(_("Type number and unit{band}.", band=band))

    def tries_begun(self, at: Standing) -> Iterator[Try]:
        """A text, a number within the band, each option that some decision reads."""
        match self.form:
            case "text":
                yield Try("typed", Answer(self.id, "typed"))
            case "fields":
                yield Try("none", Answer(self.id, NONE[0]))
            case "number":
                text = self.low or "6"
                dimension = DIMENSIONS.get(self.quantity or "")
                if self.low is None and dimension is not None:
                    text = f"10 {next(iter(dimension.units))}"
                yield Try(text, Answer(self.id, text))
            case "choice":
                names = tuple(option.value for option in self.options)
                if self.want and at.scenario.well:
                    names = self.want
                if self.name not in at.branches_on and not self.want:
                    names = names[:1]  # no decision reads which one it was
                for name in at.scenario.among(self.name, names):
                    kind = "" if self.name in CHOSEN else "answer"
                    yield Try(f"{self.name} is {name}", Answer(self.id, name), kind=kind)


def _count(typed: str) -> str:
    """A whole number as it is recorded. Raises BadQuantity."""
    number = parse_number(typed)
    if number != int(number) or not 0 <= number <= MOST_COUNTED:
        raise BadQuantity(_("{typed} is no count", typed=typed), _("Type a whole number"))
    return str(int(number))


def _years(value: str) -> dict[str, Any]:
    try:
        years = float(parse_number(value))
    except BadQuantity:
        raise refuse("number", typed=value, quantity="years") from None
    if not 0 <= years <= MAX_YEARS:
        raise refuse("band/years", typed=value, most=str(MAX_YEARS))
    return {"typed": value, **taken("years", years)}
