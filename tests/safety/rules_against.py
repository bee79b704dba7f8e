"""Against which hazard a rule of a procedure's content stands, as the printed register says it."""

AGAINST: dict[str, str] = {
    **dict.fromkeys(
        ("triage-sets", "verdict-sets", "before-closed", "after-closed", "before-fluid"),
        "false-evidence",
    ),
    **dict.fromkeys(("after-fluid", "dried-first", "codes-kept", "codes-again"), "false-evidence"),
    **dict.fromkeys(("change-sets", "number-stood-for", "three-pours"), "false-evidence"),
    **dict.fromkeys(("line-tested", "line-proven"), "wrong-sensor"),
    **dict.fromkeys(("line-blown", "blown-before-hose"), "sensor-wetted"),
    **dict.fromkeys(
        ("crank-reached", "soaked", "count-looked-at", "dried", "turn-not-before-soak"),
        "hydraulic-lock",
    ),
    **dict.fromkeys(("nobody-cranks", "cylinders-seen-to", "turn-seen"), "partial-lock"),
    **dict.fromkeys(("fluid-checked", "check-sees-all", "verdict-released"), "check-outlived"),
    **dict.fromkeys(("wet-looked-at", "opened-above", "cause-stall"), "stall-in-spray"),
    **dict.fromkeys(("cause-overdose",), "hydraulic-lock"),
    **dict.fromkeys(("start-tried", "cause-unexpected"), "self-start"),
    **dict.fromkeys(("gun-off-in-soak",), "gun-stays-open"),
    **dict.fromkeys(("carried-first",), "raised-vehicle"),
    **dict.fromkeys(("stop-start-off",), "stop-start"),
    **dict.fromkeys(("refit-planned",), "moving-parts"),
    **dict.fromkeys(("spill-looked-at", "cause-spill"), "fluid-contact"),
    **dict.fromkeys(("injury-water", "injury-paper-last"), "injection"),
    **dict.fromkeys(("battery-supported",), "battery"),
    **dict.fromkeys(("sensors-known",), "hot-sensor-wetted"),
    **dict.fromkeys(("duct-before-revs",), "burn-in-hold"),
    **dict.fromkeys(("fire-people", "fire-hands-off"), "fire"),
    **dict.fromkeys(("fumes-people", "cause-unattended"), "fumes"),
    **dict.fromkeys(("cause-over-ceiling",), "over-revs"),
    **dict.fromkeys(("road-ready",), "road-test"),
    **dict.fromkeys(
        ("left-whole", "handed-over", "tagged", "notice-signed"), "handed-over-latched"
    ),
}
"""The hazard that each stands against; those about the customer's yes stand against none."""
