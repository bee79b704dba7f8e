"""Acts at key, starter, pedal, crank bolt and diagnostics of the practice vehicle."""

import math
from typing import Final

from steplatch.safety.catalogue import _

from .acts import Acting, act, done, not_possible
from .observation import NoticedKind, Observation
from .world import KeyPosition

CRANK_S: Final = 2.0
_UNEVEN_FROM: Final = 0.15
_SLOW_FROM: Final = 0.5
_HARDER_FROM: Final = 0.85
# Shares of the clearance volume at which a person notices something: common practice, no
# source; no published figure exists. Nothing in the program permits an act because of them.


class EngineActs(Acting):
    """Key, engine, hand-turn, codes."""

    @act
    def key_to_box(self) -> Observation:
        """The key goes into the box, out of range of the vehicle."""
        if self.world.engine.running:
            return not_possible(_("The engine is running. Stop it first."))
        self.world.key = KeyPosition.BOXED
        return done(_("The key is in the box."))

    @act
    def key_from_box(self) -> Observation:
        """The key comes back to the vehicle, off."""
        if self.world.key is KeyPosition.BOXED:
            self.world.key = KeyPosition.OFF
        return done(_("The key is at the vehicle."))

    @act
    def ignition(self, on: bool) -> Observation:
        """Ignition on or off; off stops a running engine."""
        world = self.world
        if world.key is KeyPosition.BOXED:
            return not_possible(_("The key is in the box."))
        if not on:
            world.stop_engine()
        world.key = KeyPosition.ON if on else KeyPosition.OFF
        return done(_("The dash lights up.") if on else _("The dash goes dark."))

    @act
    def disable_start(self) -> Observation:
        """Take the starter relay out: it stays out until somebody puts it back."""
        self.world.start_disabled = True
        return done(_("The starter relay is out and lies in the box."))

    @act
    def enable_start(self) -> Observation:
        """Put the starter relay back."""
        self.world.start_disabled = False
        return done(_("The starter relay is back in its place."))

    @act
    def try_start(self) -> Observation:
        """Turn the key to start to see that nothing happens; key off again."""
        seen = self.start()
        if self.world.start_disabled:
            return done(_("Nothing happens."))
        self.stop()
        return seen

    @act
    def bar_on_bolt(self, on: bool) -> Observation:
        """Socket and bar on the crank bolt, or off it."""
        if self.world.engine.running:
            return not_possible(_("The engine is running."))
        self.world.bar_on = on
        return done(_("Socket and bar sit on the bolt.") if on else _("The crank bolt is bare."))

    @act
    def inhibit_self_start(self) -> Observation:
        """Bring the vehicle into the mode in which the engine cannot start by itself."""
        self.world.self_start_inhibited = True
        return done(_("The dash shows that the engine will not start by itself."))

    @act
    def start(self) -> Observation:
        """Turn the key to start; let go after two seconds or when it fires."""
        world = self.world
        if world.key is KeyPosition.BOXED:
            return not_possible(_("The key is in the box."))
        if world.engine.running:
            return not_possible(_("The engine is already running."))
        if world.start_disabled:
            return not_possible(_("The start is disabled: nothing happens."))
        if world.bar_on:
            world.mishap("bar thrown", _("The engine turned with a bar on the crank bolt."))
        world.key = KeyPosition.ON
        share = world.fill_share
        if _SLOW_FROM <= share < 1.0:
            world.peak_ratio = max(world.peak_ratio, world.ratio_now())
            world.mishap("cranked on liquid", world.what_if().words)
            world.key = KeyPosition.OFF
            world.advance(CRANK_S)
            return Observation(
                NoticedKind.SLOW_UNEVEN_CRANK,
                _("The starter labours: slow, uneven, with a thump. You let go."),
                seconds=CRANK_S,
            )
        if share < 1.0 and world.setup.fires_late and not world.fired_since_fluid:
            world.fired_since_fluid = True
            world.peak_ratio = max(world.peak_ratio, world.ratio_now())
            world.advance(CRANK_S)
            return Observation(
                NoticedKind.NOT_FIRED,
                _("An even beat for two seconds. It does not fire."),
                seconds=CRANK_S,
            )
        fired = world.crank()
        world.fired_since_fluid = True
        if not fired:
            world.key = KeyPosition.OFF
            return Observation(NoticedKind.SOLID_STOP, _("One thump, and the starter stops dead."))
        world.advance(CRANK_S)
        world.told.clear()
        if share >= _UNEVEN_FROM:
            return Observation(
                NoticedKind.STARTED_UNEVEN,
                _("An uneven beat, then it catches. White vapour from the tailpipe."),
                seconds=CRANK_S,
            )
        return Observation(NoticedKind.STARTED, _("An even beat, and it idles."), seconds=CRANK_S)

    @act
    def stop(self) -> Observation:
        """Key off. Always accepted."""
        world = self.world
        was = world.engine.running
        world.gun_open = False
        world.stop_engine()
        if world.key is KeyPosition.ON:
            world.key = KeyPosition.OFF
        return done(_("The engine stops.") if was else _("The engine stands still."))

    @act
    def set_idle(self) -> Observation:
        """Pedal up: idle."""
        if not self.world.engine.running:
            return not_possible(_("The engine stands still."))
        self.world.engine.ask(0.0)
        return done(_("The revs fall to idle."))

    @act
    def raise_revs(self, target_rpm: float = 2500.0) -> Observation:
        """Hold a raised speed [1/min]; the governor may give less. ValueError over 6000."""
        if not (math.isfinite(target_rpm) and 0.0 < target_rpm <= 6000.0):
            raise ValueError(
                _(
                    "target_rpm is {target_rpm!r}: give a speed from 1 to 6000 1/min",
                    target_rpm=target_rpm,
                )
            )
        world = self.world
        if not world.engine.running:
            return not_possible(_("The engine stands still."))
        given = world.engine.ask(target_rpm)
        if given < target_rpm:
            return Observation(
                NoticedKind.DONE,
                _("The revs settle near {given:.0f}; it gives no more.", given=given),
                lowest_rpm=given,
            )
        return done(_("The revs rise to about {given:.0f}.", given=given))

    @act
    def hand_turn(self) -> Observation:
        """Two full turns by hand at the crank bolt, in running direction, slowly."""
        world = self.world
        if world.engine.running:
            return not_possible(_("The engine is running."))
        if world.key is KeyPosition.ON:
            world.mishap("ignition on", _("Hands were at the crank with the ignition on."))
        world.bar_on = True
        share = world.fill_share
        if share >= 1.0:
            return Observation(
                NoticedKind.SOLID_STOP, _("It stops dead. You take the weight off the bar.")
            )
        world.fluid.next_cylinder(2)
        if share >= _HARDER_FROM:
            return Observation(
                NoticedKind.ONE_HARDER, _("One compression is harder than the others.")
            )
        return Observation(
            NoticedKind.EVEN,
            _("Two full turns. Each compression pushes back and leaks away; all alike."),
        )

    @act
    def clear_codes(self) -> Observation:
        """Clear the stored codes. They come back if their cause is still there."""
        world = self.world
        if world.key is not KeyPosition.ON:
            return not_possible(_("The ignition is off."))
        world.codes.clear()
        return done(_("No codes are shown."))
