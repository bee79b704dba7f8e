"""Acts with the gun and the fluid, and those that get fluid out again."""

import math
from typing import Final

from steplatch.safety.catalogue import _

from .acts import Acting, act, done, drained, not_possible
from .observation import NoticedKind, Observation
from .sensor import HoseFitting

SAG_RPM: Final = 100.0
"""A fall of the idle speed that a person hears and must act on (common practice, no source)."""

_REACTION_S: Final = 0.5
_SEEN_ML: Final = 0.5
_MAX_VOLUME_ML: Final = 1000.0
_MAX_SPRAY_S: Final = 600.0


class FluidActs(Acting):
    """Gun, jug, spray, drain."""

    @act
    def couple_gun(self) -> Observation:
        """Adaptor of the gun onto the open hose."""
        world = self.world
        if world.sensor.hose is not HoseFitting.OFF:
            return not_possible(_("The hose is on the sensor."))
        world.gun.coupled = True
        return done(_("The adaptor is seated; it holds a tug."))

    @act
    def uncouple_gun(self, lowered: bool = True) -> Observation:
        """Adaptor off the hose, its free end ``lowered`` over a jug, or left up."""
        world = self.world
        world.gun_open = False
        was, world.gun.coupled = world.gun.coupled, False
        if not was or (ran := world.fluid.let_line_go(lowered)) < _SEEN_ML:
            return done(_("The adaptor is off."))
        if lowered:
            return done(
                _("The adaptor is off. {ran:.0f} mL run out of the line into the jug.", ran=ran)
            )
        return done(_("The adaptor is off. It gurgles in the line."))

    @act
    def fill_gun(self, ml: float) -> Observation:
        """Pour ``ml`` into the gun. ValueError if not from 0 to 1000."""
        if not (math.isfinite(ml) and 0.0 <= ml <= _MAX_VOLUME_ML):
            raise ValueError(
                _(
                    "ml is {ml!r}: give a volume from 0 to {max_volume_ml:g} mL",
                    ml=ml,
                    max_volume_ml=_MAX_VOLUME_ML,
                )
            )
        world = self.world
        world.gun.contents_ml += ml
        world.fluid.filled_ml += ml
        return Observation(NoticedKind.DONE, _("{ml:.0f} mL go in.", ml=ml), volume_ml=ml)

    @act
    def empty_gun(self) -> Observation:
        """Pour what is in the gun into a jug and read it."""
        world = self.world
        out = world.gun.contents_ml
        world.gun.contents_ml = 0.0
        world.fluid.outside_ml += out
        if out < 0.5:
            return Observation(NoticedKind.DRY, _("The gun is empty."), volume_ml=0.0)
        return Observation(
            NoticedKind.WET, _("{out:.0f} mL come out.", out=out), volume_ml=float(round(out))
        )

    @act
    def jug_shot(self, seconds: float) -> Observation:
        """Spray into a jug for ``seconds`` and read it in whole mL."""
        _spray_time(seconds)
        world = self.world
        if world.gun.coupled:
            return not_possible(_("The adaptor of the gun sits on the hose."))
        world.gun.pull_trigger(world.rng)
        out = world.gun.give(seconds)
        world.fluid.outside_ml += out
        world.advance(seconds)
        return Observation(
            NoticedKind.DONE,
            _("The jug shows {out:.0f} mL.", out=out) if out >= 0.5 else _("Nothing comes out."),
            volume_ml=float(round(out)),
            seconds=seconds,
        )

    @act
    def open_gun(self) -> Observation:
        """Pull the trigger and hold it; fluid flows while time passes, until the gun is
        taken off, or a spray with it ends."""
        world = self.world
        if world.gun.contents_ml <= 0.0:
            return Observation(NoticedKind.DRY, _("Only air: the gun is empty."))
        world.gun.pull_trigger(world.rng)
        world.gun_open = True
        self.world.fired_since_fluid = False
        return done(_("Fluid flows."))

    @act
    def spray(self, seconds: float, shut_at_sag: bool = False) -> Observation:
        """Spray for ``seconds`` with the engine as it is: off or running.

        ``shut_at_sag``: let go once the speed has fallen by 100 1/min. A stall always makes
        a person let go, half a second late. Ends early when the gun is empty.
        """
        _spray_time(seconds)
        world = self.world
        opened = self.open_gun()
        if opened.sign is NoticedKind.DRY:
            return opened
        ran = world.engine.running
        asked = world.engine.asked_rpm
        lowest = world.engine.speed_rpm
        steamed = len(world.mishaps)
        start = world.elapsed_s
        sign = NoticedKind.DONE
        while (left := start + seconds - world.elapsed_s) > 1e-9:
            stalled = world.step(min(0.25, left))
            lowest = min(lowest, world.engine.speed_rpm)
            if stalled:
                sign = NoticedKind.STALLED
                world.advance(_REACTION_S)
                break
            if ran and asked - world.engine.speed_rpm > SAG_RPM:
                sign = NoticedKind.SAGGED
                if shut_at_sag:
                    world.advance(_REACTION_S)
                    break
            if world.gun.contents_ml <= 0.0:
                break
        world.gun_open = False
        took = world.elapsed_s - start
        return self._after_spray(sign, took, lowest if ran else None, steamed)

    def _after_spray(
        self, sign: NoticedKind, took_s: float, lowest_rpm: float | None, mishaps_before: int
    ) -> Observation:
        world = self.world
        empty = world.gun.contents_ml <= 0.0
        words = [_("Sprayed {took_s:.0f} s.", took_s=took_s)]
        new = {mishap.kind for mishap in world.mishaps[mishaps_before:]}
        if "steam" in new:
            sign = sign if sign is NoticedKind.STALLED else NoticedKind.STEAM
            words.append(_("It hisses and hot steam comes back at the hose."))
        if world.told:
            words.extend(world.told)
            world.told.clear()
        if sign is NoticedKind.SAGGED:
            words.append(_("The note sagged."))
        if not world.gun.coupled:
            words.append(_("It ran over the engine bay."))
        elif world.sensor.passes < 1.0 and not world.setup.hose_blocked:
            words.append(_("Fluid drips from the hose."))
        if empty:
            words.append(_("The gun is empty."))
        return Observation(sign, " ".join(words), seconds=took_s, lowest_rpm=lowest_rpm)

    @act
    def spray_volume(self, ml: float, shut_at_sag: bool = False) -> Observation:
        """A loaded volume: pour ``ml`` into the gun and spray until it is empty.

        What was in the gun before goes in as well. ``shut_at_sag`` as in ``spray``.
        """
        self.fill_gun(ml)
        seen = self.spray(600.0, shut_at_sag)
        return Observation(seen.sign, seen.words, ml, seen.seconds, seen.lowest_rpm)

    @act
    def look_into_port(self) -> Observation:
        """Look into a joint or sensor hole on the engine side of the turbine."""
        if self.world.engine.running:
            return not_possible(_("The engine is running."))
        if self.world.fluid.pipe_ml > 1.0 or self.world.fluid.worst_ml > 1.0:
            return Observation(NoticedKind.WET, _("It is wet in there."))
        return Observation(NoticedKind.DRY, _("It is dry."))

    @act
    def drain_pipe(self) -> Observation:
        """Open a joint on the engine side, let run out what runs, into a jug."""
        if self.world.engine.running:
            return not_possible(_("The engine is running."))
        return drained(self.world.fluid.drain_pipe())

    @act
    def open_cylinders(self) -> Observation:
        """Glow plugs or injectors out, two turns by hand, catch what comes, close again."""
        if self.world.engine.running:
            return not_possible(_("The engine is running."))
        return drained(self.world.fluid.drain_cylinders())


def _spray_time(seconds: float) -> None:
    if not (math.isfinite(seconds) and 0.0 < seconds <= _MAX_SPRAY_S):
        raise ValueError(
            _(
                "seconds is {seconds!r}: give a time above 0 and up to {max_spray_s:g} s",
                seconds=seconds,
                max_spray_s=_MAX_SPRAY_S,
            )
        )
