"""The hands at the practice vehicle: does what a step says, and tells what was noticed.

``perform`` is called only after a permit; it changes the simulated vehicle. ``notice`` only
looks. The answer that would be the truth travels beside the words, for scripts; a person who
practises sees the words alone.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from steplatch.safety.bay import Act
from steplatch.safety.catalogue import _
from steplatch.safety.occurrences import Happening

from ..record.clocks import PracticeClock
from .observation import NoticedKind, Observation, reading_line
from .sensor import HoseFitting
from .slip import Slip
from .vehicle import SimulatedVehicle

H = Happening
LOAD_ML = 400.0
SHOT_S = 5.0
STEADY_S = 20.0
THERE_S = 5.0
"""Until the revs are where they are wanted: then it is said that they are."""
ROAD_S = 900.0

_START = {
    NoticedKind.STARTED: H.STARTED,
    NoticedKind.NOT_FIRED: H.CRANKED_NO_FIRE,
}
SPRAYED = {
    NoticedKind.SAGGED: H.SPRAY_SAGGED,
    NoticedKind.STALLED: H.STALLED,
}


@dataclass(frozen=True, slots=True)
class Noticed:
    """What a person sees, hears or feels, and the answer that tells it truly (may be empty)."""

    words: str
    answer: str = ""


class VehicleClock(PracticeClock):
    """Practice time is the vehicle's time: waiting lets the vehicle live on."""

    def __init__(self, start: datetime, vehicle: SimulatedVehicle) -> None:
        self._vehicle = vehicle
        super().__init__(start)

    @property
    def elapsed_s(self) -> float:
        """Where the vehicle stands in time."""
        return self._vehicle.elapsed_s

    @elapsed_s.setter
    def elapsed_s(self, value: float) -> None:
        if value > self._vehicle.elapsed_s:
            self._vehicle.advance(value - self._vehicle.elapsed_s)


class Hand:
    """Acts at one simulated vehicle. ``high_rpm`` and ``low_rpm`` bound the raised band.

    ``told`` is what the practice card says where no simulated vehicle can: customer, papers,
    codes, dipstick; by the id of the step that asks. ``slips`` are the mistakes that a lesson has
    its apprentice make, each once, by the spray at which it happens. ``counted`` are the seconds
    of the last burst where a person counted it by key, '' otherwise.
    """

    def __init__(
        self,
        vehicle: SimulatedVehicle,
        low_rpm: float,
        high_rpm: float,
        told: Mapping[str, str] | None = None,
        slips: Mapping[str, Slip] | None = None,
    ) -> None:
        self.vehicle = vehicle
        self.told = told or {}
        self.slips = dict(slips or {})
        self.waits = _("practice time jumps")
        self.counted = ""
        self._other_next = False
        self.target_rpm = (low_rpm + high_rpm) / 2

    def perform(self, act: Act, seconds: float = 0.0, load_ml: float | None = None) -> Noticed:
        """Do a permitted act. Sprays take ``seconds``, or ``load_ml`` until empty."""
        v = self.vehicle
        match act:
            case Act.IGNITION_ON:
                v.key_from_box()
                return self._said(v.ignition(True), H.IGNITION_ON)
            case Act.TRY_START:
                v.key_from_box()
                seen = v.try_start()
                quiet = seen.sign is NoticedKind.DONE
                return self._said(seen, H.TRIED_NOTHING if quiet else H.TRIED_TURNED)
            case Act.START:
                v.key_from_box()
                v.enable_start()
                seen = v.start()
                return self._said(seen, _START.get(seen.sign, H.CRANKED_UNEVEN))
            case Act.STOP_ENGINE:
                return self._said(v.stop(), H.STOPPED)
            case Act.RAISE:
                seen = v.raise_revs(self.target_rpm)
                v.advance(THERE_S)
                return self._said(seen, H.RAISED)
            case Act.HANDS_IN:
                return Noticed(_("Everybody answers: hands in."), H.HANDS_IN.value)
            case Act.HANDS_AT_HOSE:
                return Noticed(_("The person at the controls nods."), H.HANDS_AT_HOSE.value)
            case Act.TAKE_HOSE_OFF:
                seen = v.hose_off()
                broken = seen.sign is NoticedKind.BROKEN
                return self._said(seen, H.STUB_SNAPPED if broken else H.HOSE_OFF)
            case Act.COUPLE_GUN:
                return self._said(v.couple_gun(), H.GUN_COUPLED)
            case Act.UNCOUPLE_GUN:
                return self._said(v.uncouple_gun(), H.GUN_UNCOUPLED)
            case Act.CLEAR_LINE:
                return self._clear()
            case Act.PUT_HOSE_ON:
                return self._said(v.hose_on(), H.HOSE_ON)
            case Act.SPRAY_OFF | Act.SPRAY_RUNNING:
                return self._spray(act, seconds, load_ml)
            case Act.HAND_TURN:
                seen = v.hand_turn()
                even = seen.sign is NoticedKind.EVEN
                return self._said(seen, H.TURNED_EVEN if even else H.TURNED_HARD)
            case Act.CLEAR_CODES:
                return self._said(v.clear_codes(), H.CODES_CLEARED)
            case Act.ROAD_TEST:
                return self._road()
            case Act.HAND_OVER:
                return Noticed(_("The customer takes the key and the sheet."), H.HANDED_OVER.value)
            case Act.ABANDON:
                return Noticed(_("The vehicle stands safe, key tagged."), H.ABANDONED.value)
        return Noticed("")

    def look(self, fact: str, want: tuple[str, ...] = ()) -> Noticed:
        """What a look at one fact shows; facts about people and place have no words here.

        A step that wants relay or bar out, off or on (``want``) is done first, then looked at.
        """
        v = self.vehicle
        shown = v.show()
        match fact:
            case "engine":
                if not v.truth().running:
                    return Noticed(_("The engine stands still."), "stopped")
                raised = (shown.speed_rpm or 0.0) > self.target_rpm - 400
                return Noticed(
                    _("The engine runs at {speed_rpm:.0f} 1/min.", speed_rpm=shown.speed_rpm or 0),
                    "raised" if raised else "idling",
                )
            case "idle":
                v.advance(STEADY_S)
                speed = v.show().speed_rpm
                if speed is None:
                    return Noticed(_("The engine does not run."), "unknown")
                return Noticed(_("An even note, {speed:.0f} 1/min.", speed=speed), "steady")
            case "burning":
                if shown.burning is None:
                    return Noticed(_("The flag is not shown with the ignition off."), "unknown")
                text = _("burning now") if shown.burning else _("not burning")
                return Noticed(
                    _("Regeneration flag: {text}.", text=text), "yes" if shown.burning else "no"
                )
            case "oil":
                state = v.world.oil
                if state not in want:
                    v.world.oil = "ok"  # what the step says to do is done before the next look
                thin = _("Over the mark; it smells of fuel and drips like water.")
                good = _("Between the marks, as oil smells.")
                return Noticed(good if state == "ok" else thin, state)
            case "key":
                v.inhibit_self_start()
                v.disable_start()
                return Noticed(v.key_to_box().words, "boxed")
            case "starter":
                if want:
                    (v.enable_start if "enabled" in want else v.disable_start)()
                out = v.world.start_disabled
                words = (
                    _("The starter relay is out.")
                    if out
                    else _("The starter relay is in its place.")
                )
                return Noticed(words, "disabled" if out else "enabled")
            case "bar":
                if want:
                    v.bar_on_bolt("on" in want)
                on = v.world.bar_on
                words = _("Socket and bar sit on the bolt.") if on else _("The crank bolt is bare.")
                return Noticed(words, "on" if on else "off")
            case "gun":
                on = v.world.gun.coupled
                words = _("The adaptor sits on the hose.") if on else _("The gun is put away.")
                return Noticed(words, "coupled" if on else "away")
            case "hose":
                off = v.world.sensor.hose is HoseFitting.OFF
                words = _("The hose hangs free.") if off else _("The hose sits on its sensor.")
                return Noticed(words, "off" if off else "on")
            case "sensor":
                return self._traced()
            case "trigger" if v.world.setup.gun_leaks_ml_s > 0.0:
                return Noticed(_("Let go, it goes on dripping into the jug."), "stays")
            case "low_loop" if v.world.setup.loop_open:
                return Noticed(
                    _("A pipe leads from behind it to the compressor, valve open."), "open"
                )
        return Noticed("")

    def _traced(self) -> Noticed:
        """Where the hose ends; after one that was not the filter's, the like sensor's."""
        v, first = self.vehicle, ""
        if self._other_next:
            self._other_next = False
            first = f"{v.take_other_sensor().words} "
        words = first + v.trace_hose().words
        self._other_next = v.world.sensor.reads_recirculation
        return Noticed(words, "alike" if self._other_next else "proven")

    def lower(self) -> Noticed:
        """Let the engine fall back to idle."""
        seen = self.vehicle.set_idle()
        self.vehicle.advance(THERE_S)
        return self._said(seen, H.LOWERED)

    def observe(self, what: str) -> Noticed:
        """Do and tell one of the observations that a recovery asks for."""
        v = self.vehicle
        if what == H.LOWERED.value:
            return self.lower()
        if what == H.STOPPED.value:
            return Noticed(v.stop().words, what)
        if what == H.DRAINED.value:
            seen = v.drain_pipe()
            volume_ml = seen.volume_ml or 0.0
            return Noticed(seen.words, f"{what} {volume_ml:.0f} mL")
        if what == H.CYLINDERS_OPENED.value:
            return self._said(v.open_cylinders(), H.CYLINDERS_OPENED)
        if what in (H.LOOKED_DRY.value, H.LOOKED_WET.value):
            seen = v.look_into_port()
            dry = seen.sign is NoticedKind.DRY
            return self._said(seen, H.LOOKED_DRY if dry else H.LOOKED_WET)
        return Noticed("")

    def reading(self) -> Noticed:
        """The instruments, watched for ten seconds, as one typed line. No digit is read that the
        display does not have."""
        mean, step_pa = self.vehicle.show_mean(), self.vehicle.world.sensor.step_pa
        if mean.pressure_pa is not None:
            mean = replace(mean, pressure_pa=round(mean.pressure_pa / step_pa) * step_pa)
        line = reading_line(mean)
        return Noticed(_("The diagnostics show: {line}", line=line), line)

    def temperature(self) -> Noticed:
        """A contact probe on the bare inlet pipe; the diagnostics' value while they show one."""
        shown = self.vehicle.show().exhaust_k
        kelvin = shown if shown is not None else self.vehicle.truth().body_k
        degc = kelvin - 273.15
        return Noticed(
            _("The probe on the inlet pipe shows {degc:.0f} degC.", degc=degc), f"{degc:.0f} degC"
        )

    def pressure(self) -> Noticed:
        """The pressure alone, for the trend."""
        shown = self.vehicle.show().pressure_pa
        if shown is None:
            return Noticed(_("No pressure is shown."), "")
        return Noticed(
            _("Pressure {shown:.1f} mbar.", shown=shown / 100), f"{shown / 100:.1f} mbar"
        )

    def shots(self) -> Noticed:
        """Fill the gun and take three shots into the jug."""
        v = self.vehicle
        v.fill_gun(max(0.0, LOAD_ML - v.truth().gun_ml))
        volumes = [v.jug_shot(SHOT_S).volume_ml or 0.0 for _ in range(3)]
        text = " ".join(f"{ml:.0f}" for ml in volumes) + f" mL in {SHOT_S:.0f} s"
        return Noticed(_("Into the jug: {text}.", text=text), text)

    def load(self, volume_ml: float) -> Noticed:
        """Empty the gun and load a measured volume."""
        self.vehicle.empty_gun()
        self.vehicle.fill_gun(volume_ml)
        return Noticed(
            _("{volume_ml:.0f} mL loaded.", volume_ml=volume_ml), f"loaded {volume_ml:.0f} mL"
        )

    def _spray(self, act: Act, seconds: float, load_ml: float | None) -> Noticed:
        """A burst as it is permitted, unless a lesson has something go wrong here."""
        slip = self.slips.pop(act.value, Slip())
        if load_ml is not None:  # 'load' has put it into the gun
            seen = self.vehicle.spray_volume(0.0, shut_at_sag=not slip.past_sag)
        else:
            seen = self.vehicle.spray(slip.held_s or seconds, shut_at_sag=not slip.past_sag)
        return self._said(seen, SPRAYED.get(seen.sign, H.SPRAY_ENDED))

    def _clear(self) -> Noticed:
        if not self.vehicle.truth().running:
            seen = self.vehicle.blow_line_test()
            return self._said(
                seen, H.LINE_CLEARED if seen.sign is NoticedKind.FREE else H.LINE_STILL_WET
            )
        seen = self.vehicle.clear_line()
        dry = seen.sign is NoticedKind.DRY
        return self._said(seen, H.LINE_CLEARED if dry else H.LINE_STILL_WET)

    def _road(self) -> Noticed:
        v = self.vehicle
        v.key_from_box()
        v.enable_start()
        v.start()
        v.raise_revs(self.target_rpm)
        v.advance(ROAD_S)
        v.set_idle()
        v.stop()
        return Noticed(_("A steady drive; nothing unusual."), H.ROAD_ENDED.value)

    @staticmethod
    def _said(seen: Observation, answer: Happening) -> Noticed:
        if seen.sign is NoticedKind.NOT_POSSIBLE:
            return Noticed(seen.words)
        return Noticed(seen.words, answer.value)
