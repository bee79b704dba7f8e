"""The steps that take time: burst, wait, hold."""

from typing import Any

from steplatch.safety.bay import Act, FluidIn, RunOn
from steplatch.safety.occurrences import OUTCOMES, Happening

from ..assess import told
from ..core.commands import Answer, Begin, Report
from ..core.draft import No
from ..core.gun_entry import DOUBTED, GunLoad, doubt_words, parse_gun
from ..core.job import Job, Recorded
from ..core.refusals import WAY_ON
from ..core.steps import GunStep, HoldStep, SprayStep, WaitStep
from ..core.steps.spray import parse_seconds
from ..core.timers import NOT_DUE_MS
from ..simulator.hand import Noticed
from .asking import clock_text
from .full_screen import PageTalk
from .screen import do_lines, spray_seconds
from .signing import Signing
from .talk import PICTURE, Choice, Line, Prompt
from .trend_plot import Point, last_values, plot
from .writing import IN_A_WAIT

HOLD_STEP_S = 60.0
EXHAUST_AGAIN_S = 420.0
"""The exhaust is asked for again in a drying run after this time, before it is too old."""
NOTED_ENOUGH = 8
"""Pressures after which it can be told whether they still fall."""
LONG_HOLD = 40
"""Readings after which a lesson stops waiting for a level that cannot be told."""
PLOT_WIDEST = 70
LEAST_SPEED_DIGITS = 3
REST_S = 20.0
"""A real wait notices the time at least this often."""


class TimedSteps(Signing):
    """Counts bursts, waits out timers, notes the trend of a hold."""

    def _spray_step(self, step: SprayStep) -> None:
        job = self.session.job
        longest = spray_seconds(step, job)
        gun = job.log.latest("gun")
        load_ml = float(gun["volume_ml"]) if job.bay.rate.value == "loaded" and gun else None
        want = "go" if load_ml is not None else str(longest or "done")
        typed = self._line(step.id, _spray_text(step, job, longest, load_ml), want=want)
        if typed is None:
            return
        if typed == "done" or "ml" in typed.lower():
            self._fill(step, typed)
            return
        if (load_ml is not None) != (typed == "go"):
            self.talk.say(
                "The gun is loaded: type go."
                if load_ml is not None
                else "'go' is for a loaded gun: type the seconds.",
                "refused",
            )
            return
        outcome = self._submit(Begin(step.id, "" if typed == "go" else typed))
        if outcome.refused:
            self._refused(step, outcome.refusals)
            return
        self._burst(step, typed, load_ml)

    def _fill(self, step: SprayStep | GunStep, typed: str) -> None:
        """Submit what was measured or loaded; the practice gun is loaded once it is taken."""
        outcome = self._submit(Answer(step.id, typed))
        for event in outcome.events:
            if isinstance(event, Recorded) and event.name == DOUBTED:
                self.talk.say(f"AGAIN  {doubt_words(event.value)}", "head")
        gun = parse_gun(typed, 0.0)
        if self.hand and not outcome.refused and isinstance(gun, GunLoad):
            self.talk.say(f"  (practice vehicle) {self.hand.load(gun.volume_ml).words}")

    def _burst(self, step: SprayStep, typed: str, load_ml: float | None) -> None:
        """The permit stands: spray, and report how it ended."""
        act = Act.SPRAY_OFF if step.engine == "off" else Act.SPRAY_RUNNING
        seconds = 0.0
        if load_ml is None:
            try:
                seconds = parse_seconds(typed)
            except No:  # the engine took it; it would have refused what cannot be read
                seconds = 0.0
        self.talk.say("GO: permitted now.", "do")
        self.lead = do_lines(step, "context")
        counted, noticed = "", Noticed("")
        if self.hand:
            noticed = self._seen(self.hand.perform(act, seconds, load_ml))
            counted = self.hand.counted
        elif load_ml is None:
            counted = self.talk.count(seconds)
        choices = [Choice(what.value, what.said) for what in OUTCOMES[act]]
        answer = self._choose(f"{step.id}:outcome", "What happened?", choices, noticed.answer)
        if answer is None:
            return
        if answer == "dk":
            answer = Happening.OVERDOSED.value
        seconds_text = ""
        if answer not in ("spray_none", "overdosed") and load_ml is None:
            seconds_text = counted or self._seconds(step, typed)
        self._submit(Report(answer, seconds=seconds_text))

    def _seconds(self, step: SprayStep, typed: str) -> str:
        text = "How many seconds did it spray? dk: not known."
        answer = self._line(f"{step.id}:seconds", text, typed)
        return "?" if answer in (None, "dk") else str(answer)

    def _wait_step(self, step: WaitStep) -> None:
        if not self.session.job.core.begun and not self._begin(step):
            return
        if not self._waited(step):
            return
        answer = self._line(step.id, "The time is over. Type due to go on.", "due")
        if answer == "due":
            self._submit(Answer(step.id, answer))
        elif answer is not None:
            self.talk.say("Only the word due goes on from here.", "refused")

    def _waited(self, step: WaitStep) -> bool:
        """Wait until the timer is due; False when a typed word led elsewhere."""
        while (left := self.session.left_s(step.timer)) > 0:
            if self.hand:
                clock = f"{int(left // 60)}:{int(left % 60):02d}"
                self.talk.say(f"  {step.timer}: {clock} to wait; {self.hand.waits}.")
                self.noticed = self._useful()
                self._pass_time(left + 0.1)
            elif not self._sits_out(step, left):
                return False
            self.session.tick()
        return True

    def _sits_out(self, step: WaitStep, left: float) -> bool:
        """A real wait: start, due time and what is useful meanwhile in view, the time noticed
        all the while. False when something else is due."""
        self._due_line(step, left)
        if isinstance(self.talk, PageTalk):
            self.live = lambda: self._clock_line(step)
            text = "It ends by itself. write: paper that can be written now; ahead: all to come."
            prompt = self._whole(Prompt(f"{step.id}:wait", "line", text))
            typed = self.talk.ask_within(prompt, left)
            self.live = None
            return not self._led_elsewhere(step, typed)
        for text, style in self.lead:
            self.talk.say(text, style)
        until = left
        while until > 0:
            typed = self.talk.rest(min(until, REST_S), step.timer)
            self.session.tick()
            if self._led_elsewhere(step, typed):
                return False
            until = self.session.left_s(step.timer)
        return True

    def _led_elsewhere(self, step: WaitStep, typed: str) -> bool:
        if typed and self._common(typed, step.id):
            return typed.lower() not in IN_A_WAIT
        if typed:
            self.talk.say("It cannot be hurried. s stops, ? helps, event reports.")
        core = self.session.job.core
        return core.step != step.id or core.held or bool(core.ask_again)

    def _due_line(self, step: WaitStep, left: float) -> None:
        """When it began and when it is due, by the workshop's clock, and the useful paperwork."""
        log, now = self.session.job.log, self.session.clock.now()
        whole = log.number("soak_s" if step.timer == "soak" else "zero_wait_s")
        due, began = clock_text(now, left)[:5], clock_text(now, left - whole)[:5]
        time_line = (f"TIME   began {began}, due {due}; it is not hurried", "")
        self.noticed = (time_line, *self._useful())

    def _clock_line(self, step: WaitStep) -> tuple[Line, ...]:
        left = int(self.session.left_s(step.timer) + 0.999)
        return ((f"LEFT   {left // 60}:{left % 60:02d}", "do"),)

    def _hold_step(self, step: HoldStep) -> None:
        if not self.session.job.core.begun and not self._begin(step):
            return
        trend = self.session.plan.judges.trend(self.session.job)
        if self.hand:
            self.talk.say(self._hold_line(trend))
            self._pass_time(HOLD_STEP_S)
            self.session.tick()
        else:
            self.live = lambda: ((self._hold_line(trend), "head"),)
            self.nag = self._pressure_due
        job = self.session.job
        read = exhaust_due(job)
        noticed = self._seen(self._noticed_at_hold(read))
        points = trend_points(self.session.job)
        self.noticed = (*trend_lines(points, self.talk.width), *self.noticed)
        if not self.hand:
            self.noticed += self._useful()
        noted = len(self.session.job.log.every("trend"))
        level = trend["state"] == "levelled" or (trend["state"] != "falling" and noted >= LONG_HOLD)
        dry = job.bay.run_on is RunOn.DONE
        enough = noted >= NOTED_ENOUGH
        answer = self._line(
            step.id,
            _hold_text(job, str(trend["state"]), noted),
            "done" if dry and level and enough else noticed.answer,
        )
        self.live = self.nag = None
        if answer is None:
            return
        if answer == "again":
            self._submit(Begin(step.id))
            return
        pressure, speed = _with_speed(answer)
        if speed is not None and speed > self.session.job.log.number("rev_ceiling_rpm"):
            self.talk.say(
                f"OVER   {speed:.0f} 1/min is over the ceiling: let it fall now.", "DANGER"
            )
            self._submit(Report(Happening.OVER_CEILING.value))
            return
        self._submit(Answer(step.id, pressure))

    def _noticed_at_hold(self, read: bool) -> Noticed | None:
        """What the practice vehicle shows now: the exhaust where it is due, else the pressure."""
        if self.hand is None:
            return None
        if self.session.job.bay.run_on is RunOn.UNKNOWN:
            return Noticed("The drying run was cut short.", "again")
        return self.hand.temperature() if read else self.hand.pressure()

    def _hold_line(self, trend: dict[str, Any]) -> str:
        return f"HOLD   {self._drying_now()}; {told.trend(trend)}"

    def _drying_now(self) -> str:
        job = self.session.job
        if job.bay.run_on is RunOn.DONE:
            return "dry by now"
        if job.bay.run_on is RunOn.UNKNOWN:
            return "drying cut short: begin it again"
        if not_read(job):
            return "not drying yet: the exhaust was not read"
        left = int(self.session.left_s("run_on") + 0.999)
        return f"drying {left // 60}:{left % 60:02d} left"

    def _pressure_due(self) -> str:
        """A reminder, with a bell: the exhaust where it is due, or a pressure a minute old."""
        log = self.session.job.log
        if exhaust_due(self.session.job):
            return "NOTE   The exhaust at the filter inlet now."
        noted = log.every("trend")
        since_ms = max(log.timers.get("hold_from", 0), int(noted[-1]["at_ms"]) if noted else 0)
        return "NOTE   The pressure now." if log.aged_ms - since_ms >= HOLD_STEP_S * 1000 else ""


def not_read(job: Job) -> bool:
    """Whether the exhaust was not read yet in this drying run."""
    return job.log.timers.get("run_on", NOT_DUE_MS) >= NOT_DUE_MS


def exhaust_due(job: Job) -> bool:
    """Whether the exhaust has to be read for the drying run to be credited: not read yet, too
    long ago, or soon too long ago."""
    if job.bay.run_on is not RunOn.RUNNING:
        return False
    age_ms = job.log.aged_ms - job.log.set_ms.get("port", 0)
    return not_read(job) or not job.bay.knows("port") or age_ms > EXHAUST_AGAIN_S * 1000


def trend_points(job: Job) -> list[Point]:
    """The pressures noted in this hold: (s since it began, Pa)."""
    since = job.log.timers.get("hold_from", 0)
    return [
        ((int(p["at_ms"]) - since) / 1000, float(p["pa"]))
        for p in job.log.every("trend")
        if int(p["at_ms"]) >= since
    ]


def trend_lines(points: list[Point], width: int) -> tuple[Line, ...]:
    """The trend drawn, and the last values for a screen without room for the picture."""
    drawn = tuple((row, PICTURE) for row in plot(points, min(width, PLOT_WIDEST)))
    return (*drawn, (f"TREND  {last_values(points)}", ""))


def _with_speed(typed: str) -> tuple[str, float | None]:
    """The pressure, and the engine speed where a second bare number stands behind it."""
    first, _, second = typed.rpartition(" ")
    if first and second.isascii() and second.isdigit() and len(second) >= LEAST_SPEED_DIGITS:
        return first, float(second)
    return typed, None


def _hold_text(job: Job, trend: str, noted: int) -> str:
    dry = job.bay.run_on is RunOn.DONE
    if job.bay.run_on is RunOn.UNKNOWN:
        return f"Type again to begin the drying run anew. Too cold: {WAY_ON}"
    if exhaust_due(job):
        return "Type the exhaust at the filter inlet with its unit: 168 degC."
    if dry and trend == "levelled":
        return "Dry and level: type done."
    if dry and trend != "falling" and noted >= NOTED_ENOUGH:
        return "Dry, and it no longer falls: type done, or the pressure to watch on."
    return "Type the pressure in mbar about once a minute; also with the speed: 61 2450."


def _spray_text(step: SprayStep, job: Job, longest: int, load_ml: float | None) -> str:
    if load_ml is not None:
        first = f"Type go to spray the {load_ml:.0f} mL until the gun is empty."
    elif longest:
        first = f"Type the seconds to spray, at most {longest}."
    else:
        first = "No burst can be timed under this limit."
    text = f"{first}\nOr a new rate: 19 20 21 mL in 5 s; a load: loaded 14 mL"
    if step.engine == "running" or job.bay.fluid_in is FluidIn.YES:
        text += "; or done when the dose is in"
    text += "."
    return text
