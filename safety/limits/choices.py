"""Design choices: figures for which no published value was found, each with its reason.

They are not facts of the trade and not permissions by any authority. A workshop can
tighten what they lead to; it cannot loosen it.
"""

from dataclasses import dataclass
from typing import Final

from ..catalogue import _


@dataclass(frozen=True, slots=True)
class DesignChoice:
    """One design choice: value in SI, unit, why this value."""

    name: str
    value: float
    unit: str
    why: str


CRANKING_PRESSURE_RATIO: Final = DesignChoice(
    _("highest compression pressure over intake pressure with liquid in a cylinder"),
    90.0,
    _("(no unit)"),
    _(
        "about 90 bar at sea level, below the firing peaks of about 120 to 180 bar that a light "
        "diesel bears at full load (from memory); no published figure for liquid exists"
    ),
)
POLYTROPIC_EXPONENT: Final = DesignChoice(
    _("exponent of compression while cranking"),
    1.32,
    _("(no unit)"),
    _("between 1 (all heat lost) and 1.4 (none lost); leakage past the rings is not credited"),
)
HIGHEST_COMPRESSION_RATIO: Final = DesignChoice(
    _("highest compression ratio that is believed, and the one taken when it is not known"),
    25.0,
    _("(no unit)"),
    _(
        "above the 22 of older light diesels (common practice, no source): whatever can be typed "
        "can be true, so the smallest space is that of the highest ratio"
    ),
)
LEVEL_TOLERANCE: Final = DesignChoice(
    _("height taken off for a car that does not stand level, when not known"),
    0.10,
    "m",
    _("a rise of 1 in 20 over 2 m between filter and ports"),
)
HEIGHT_READ: Final = DesignChoice(
    _("height taken off for a depth that is read with a tape"),
    0.02,
    "m",
    _("both ends are read to about 10 mm"),
)
BORE_READ: Final = DesignChoice(
    _("taken off the bore of a pipe"),
    0.003,
    "m",
    _("a pipe is measured from outside: two walls of up to 1.5 mm"),
)
VOLUME_COUNTED: Final = DesignChoice(
    _("share that counts of a volume measured as held or retained"),
    0.8,
    "(share)",
    _("what went in less what came back: two jugs, each read to 5 %, of twice the volume or more"),
)
CHANNELS_COUNTED: Final = DesignChoice(
    _("share of the inlet channels counted as able to hold liquid"),
    0.25,
    "(share)",
    _("soot, ash plugs and air bubbles take the rest"),
)
LONGEST_SHAPE: Final = DesignChoice(
    _(
        "longest dimension of a filter over the cube root of its volume, when its length is "
        "not known"
    ),
    1.72,
    _("(no unit)"),
    _("a cylinder twice as long as it is wide; wider ones are shorter in both"),
)
LOW_INLET_VOID: Final = DesignChoice(
    _("share of the filter that is inlet channel, when its cells are not known"),
    0.3138,
    "(share)",
    _("lowest of five usual structures: 300 cells per square inch, wall 0.305 mm"),
)
LOW_PORE_SHARE: Final = DesignChoice(
    _("share of the filter that is wall pore, when its cells are not known"),
    0.1329,
    "(share)",
    _("lowest of five usual structures: 300 cells per square inch, wall 0.254 mm, porosity 0.42"),
)
PORES_RETAIN: Final = DesignChoice(
    _("most of the wall pores that a claim of retained fluid may count"),
    0.05,
    "(share)",
    _("only a small part is wetted from one hose, and soot and coating repel or fill the rest"),
)
PORES_RUNNING: Final = DesignChoice(
    _("share of the wall pores that a running dose may fill"),
    0.75,
    "(share)",
    _("what the walls cannot hold stands in the channels and can run back at a stall"),
)
HIGH_FILTER_TO_ENGINE: Final = DesignChoice(
    _("filter volume over displacement, high side"),
    2.4,
    "(times)",
    _("largest of four published engines (Bai et al., Appl. Therm. Eng. 100 (2016) 1292, Table 3)"),
)
LOW_FILTER_TO_ENGINE: Final = DesignChoice(
    _("filter volume over engine displacement, when the filter is not known"),
    0.9,
    _("(no unit)"),
    _("just under 0.93, the lowest in four published engine and filter pairs"),
)
LEAST_TIMED: Final = DesignChoice(
    _("shortest burst that is timed by hand"),
    3.0,
    "s",
    _("below it the reaction time is too large a part; load a measured volume instead"),
)
LONGEST_OFF_BURST: Final = DesignChoice(
    _("longest burst with the engine off"),
    15.0,
    "s",
    _(
        "at the slowest usual rate, 2 mL/s, it gives 30 mL, the most that a light diesel is "
        "allowed; whatever asks for longer rests on a rate that is wrong, and floods if it is"
    ),
)
GUN_SCATTER: Final = DesignChoice(
    _("scatter of bursts about the rate of a gun, before any shot is measured"),
    0.05,
    "(share)",
    _(
        "a jug is read to about 1 mL in 20, and bursts differ by as much; common practice, "
        "no source"
    ),
)
STOP_SCATTER: Final = DesignChoice(
    _("scatter of the time from 'stop' to the trigger shut, before any is measured"),
    0.05,
    "s",
    _("a trained hand differs by some 20 % of a quarter of a second (from memory)"),
)
SCATTER_WEIGHT: Final = DesignChoice(
    _("degrees of freedom that the scatter taken beforehand counts for"),
    8.0,
    "(number)",
    _(
        "three shots alone bound nothing: with 2 degrees of freedom the bound is 26 times "
        "what they scatter; as much as nine shots lets a dozen of one's own outweigh it"
    ),
)
USUAL_RATE_LOW: Final = DesignChoice(
    _("lowest rate of a gun that is taken from one set of shots"),
    2e-6,
    "m3/s",
    _(
        "guns give 2 to 8 mL/s (common practice, no source); a slip at the jug or in the seconds "
        "falls outside, and a rate taken too low floods"
    ),
)
USUAL_RATE_HIGH: Final = DesignChoice(
    _("highest rate of a gun that is taken from one set of shots"),
    5.9e-6,
    "m3/s",
    _(
        "less than three times the lowest, so that no slip of a factor 3 stays inside; a "
        "faster gun is measured twice"
    ),
)
RATE_JUMP: Final = DesignChoice(
    _(
        "factor by which a rate may differ from this gun's last one before a second set is "
        "asked for"
    ),
    2.0,
    "times",
    _("filling and air pressure move a rate by less; a slip of the seconds by more"),
)
SHOTS_SCATTER: Final = DesignChoice(
    _("scatter of the shots of one set above which it is not taken"),
    0.10,
    "(share)",
    _(
        "twice the usual 5 %, which three shots of a sound gun exceed once in fifty sets; "
        "above, the bound of a burst no longer holds"
    ),
)
SETS_AGREE: Final = DesignChoice(
    _("factor within which two sets of shots count as the same rate"),
    1.25,
    "times",
    _("more than the scatter of a jug (5 %) and of a trigger, much less than a slip"),
)
REV_MARGIN: Final = DesignChoice(
    _("distance of the raised band from the ceiling"),
    50.0,
    "1/min",
    _("a foot holds a speed to about 50; common practice, no source"),
)
REV_BAND: Final = DesignChoice(
    _("width of the raised band"),
    150.0,
    "1/min",
    _("narrow enough to compare before with after, wide enough to hold"),
)
REV_ABOVE_IDLE: Final = DesignChoice(
    _("least distance of the raised band from idle"),
    400.0,
    "1/min",
    _("nearer to idle the pressure cannot be told from the idle reading"),
)
HEAT_SHARE: Final = DesignChoice(
    _("share of the exhaust heat above boiling that reaches the water"),
    0.7,
    "(share)",
    _("the rest passes through dry channels or is lost from the can"),
)
LOW_HEAT_SHARE: Final = DesignChoice(
    _("the same where only a quarter of the filter is wet"),
    0.35,
    "(share)",
    _("three quarters of the gas pass dry channels; walls carry a part of their heat across"),
)
CORE_HEAT_J_M3_K: Final = DesignChoice(
    _("heat that a filter takes up"),
    0.74e6,
    "J/(m3 K)",
    _(
        "silicon carbide, 2.677 kg in 3.62 L (Yao et al., Energy Sources A 45 (2023), Table 2), at "
        "1.0 kJ/(kg K), the heavier of the usual materials; can and pipe left out"
    ),
)
LOW_FILLING: Final = DesignChoice(
    _("volumetric efficiency for an estimated air flow"),
    0.85,
    "(share)",
    _("low side of 0.85 to 0.95 (from memory): less air, longer drying"),
)
HIGH_RECIRCULATION: Final = DesignChoice(
    _("recirculated share for an estimated air flow"),
    0.35,
    "(share)",
    _("recirculation open: less fresh air, longer drying; common practice, no source"),
)
COOL_IDLE: Final = DesignChoice(
    _("exhaust before the filter at idle, when not measured"),
    403.15,
    "K",
    _("130 degC, in the lower half of the usual 110 to 170; common practice, no source"),
)
COOL_RAISED: Final = DesignChoice(
    _("exhaust before the filter at raised revs, when not measured"),
    473.15,
    "K",
    _("200 degC, low side of 200 to 250; common practice, no source"),
)
