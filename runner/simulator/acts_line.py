"""Acts at the pressure sensor and its hose."""

from steplatch.safety.catalogue import _

from .acts import Acting, act, done, not_possible
from .observation import NoticedKind, Observation
from .sensor import HoseFitting


class LineActs(Acting):
    """Hose, sensor, line test."""

    @act
    def hose_off(self) -> Observation:
        """Sensor off its bracket and hose, with a twist in line; it stays plugged in."""
        world = self.world
        world.sensor.hose = HoseFitting.OFF
        if world.engine.running:
            return done(_("The hose comes off. Warm exhaust blows from it."))
        return done(_("The hose comes off with a twist."))

    @act
    def hose_on(self, swapped: bool = False) -> Observation:
        """Hose back on the sensor, the two hoses swapped if so told."""
        world = self.world
        if world.gun.coupled:
            return not_possible(_("The adaptor of the gun sits on the hose."))
        world.sensor.hose = HoseFitting.SWAPPED if swapped else HoseFitting.ON
        return done(_("The hose is on and the sensor in its bracket."))

    @act
    def trace_hose(self) -> Observation:
        """Follow the hose of the sensor in hand to where it ends."""
        if self.world.sensor.reads_recirculation:
            return Observation(NoticedKind.DONE, _("This hose ends at the recirculation valve."))
        if self.world.sensor.hose is HoseFitting.SWAPPED:
            return Observation(
                NoticedKind.DONE, _("The hoses cross: the upstream one is on the wrong stub.")
            )
        return Observation(NoticedKind.DONE, _("This hose ends in front of the filter."))

    @act
    def take_other_sensor(self) -> Observation:
        """Turn to the like sensor beside it, and to its line in the diagnostics."""
        world = self.world
        if not world.setup.reads_recirculation:
            return not_possible(_("There is only one such sensor."))
        if world.gun.coupled or world.sensor.hose is HoseFitting.OFF:
            return not_possible(_("Put the hose of this one back first."))
        world.sensor.reads_recirculation = not world.sensor.reads_recirculation
        return done(_("You now have the other of the two sensors."))

    @act
    def blow_line_test(self) -> Observation:
        """Blow the upstream line gently towards the filter, with the sensor off."""
        world = self.world
        if world.gun.coupled:
            return not_possible(_("The adaptor of the gun sits on the hose."))
        if world.sensor.hose is not HoseFitting.OFF:
            world.sensor.zero_pa += 2500.0
            world.mishap("sensor blown", _("Air was blown through the sensor: it is broken."))
            return Observation(NoticedKind.BROKEN, _("A click from the sensor."))
        passes = world.sensor.passes
        if world.setup.hose_blocked and passes < 1.0:
            return Observation(NoticedKind.BLOCKED, _("Hardly any air passes."))
        if passes < 1.0:
            return Observation(NoticedKind.HISS, _("Air hisses from a split in the hose."))
        moved = world.fluid.clear_hose(into_filter=True)
        if moved > 0.3:
            return Observation(NoticedKind.FREE, _("A gurgle, then air passes freely."))
        return Observation(NoticedKind.FREE, _("Air passes freely."))

    @act
    def clear_line(self) -> Observation:
        """Let the idling engine blow the open line dry into a rag."""
        world = self.world
        if world.gun.coupled or world.sensor.hose is not HoseFitting.OFF:
            return not_possible(_("The line is not open: adaptor off and hose off first."))
        if not world.engine.running:
            return not_possible(_("Nothing blows: the engine stands still."))
        moved = world.fluid.clear_hose(into_filter=False)
        world.advance(10.0)
        if moved < 0.3:
            return Observation(NoticedKind.DRY, _("Dry gas comes from the line."), seconds=10.0)
        return Observation(
            NoticedKind.WET, _("Black foam, then dry gas. The rag is wet."), seconds=10.0
        )
