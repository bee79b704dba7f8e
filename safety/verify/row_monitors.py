"""Which monitor breaks when an interlock row is taken out. Written by hand, and held by tests.

The rows say what is refused; the monitors (``monitors``) say, written a second time and apart,
what must never truly happen. This list ties the two together.
"""

BREAKS: dict[str, str] = {
    "start-ledger": "start-with-fluid",
    "start-soak": "start-soaked",
    "start-check": "start-checked",
    "start-port-shut": "start-port-shut",
    "start-hands-clear": "hands-clear",
    "start-bar-off": "bar-off",
    "run-secured": "run-secured",
    "lift-carries": "lift-carries",
    "lift-down": "lift-down",
    "run-fumes": "run-fumes",
    "run-controls": "run-attended",
    "run-oil": "oil-runaway",
    "start-only-when-stopped": "start-from-still",
    "crew-may-run": "crew-may-run",
    "try-before-fluid": "try-before-fluid",
    "try-disabled": "try-disabled",
    "ignition-not-in-soak": "ignition-not-in-soak",
    "spray-off-ledger": "spray-off-ledger",
    "spray-off-burst": "spray-off-short",
    "spray-running-ledger": "spray-running-ledger",
    "spray-rate": "spray-rate",
    "spray-off-cool": "spray-off-cool",
    "spray-running-band": "spray-running-band",
    "spray-sheet": "spray-sheet",
    "fluid-kit": "spray-kit",
    "spray-spill": "spray-spill",
    "spray-not-burning": "spray-not-burning",
    "spray-off-still": "spray-off-still",
    "spray-running-idle": "spray-running-idle",
    "spray-coupled": "spray-coupled",
    "spray-agreed": "spray-agreed",
    "spray-triage": "spray-triage",
    "fluid-diesel": "other-fuel",
    "fluid-coating": "coating-harmed",
    "fluid-foul": "fouled-filter",
    "fluid-low-loop": "low-loop-fed",
    "spray-flash": "vapour-burns",
    "spray-trigger": "gun-shuts-itself",
    "spray-stop-start": "spray-stop-start",
    "spray-identity": "spray-identity",
    "spray-before-first": "spray-before",
    "spray-off-pair": "off-dose-by-two",
    "spray-check": "fluid-checked",
    "stop-with-fluid": "stop-stays-startable",
    "revs-hose-on": "revs-hose-on",
    "revs-gun-away": "revs-gun-away",
    "revs-line-clear": "revs-line-clear",
    "revs-ceiling": "revs-under-ceiling",
    "revs-from-idle": "revs-from-idle",
    "revs-not-burning": "revs-burning",
    "hands-in-still": "hands-still",
    "fluid-start-tried": "start-tried",
    "hands-told": "hands-told",
    "hose-cool": "hose-cool",
    "hose-which": "hose-which",
    "refit-idle": "refit-idle",
    "refit-hands": "refit-hands",
    "couple-hose-off": "couple-hose-off",
    "turn-soaked": "turn-soaked",
    "turn-pair": "turn-by-two",
    "run-on-running": "drying-runs",
    "zero-stopped": "zero-still",
    "before-only-dry": "before-is-before",
    "after-only-dried": "after-is-dry",
    "codes-saved-first": "codes-saved",
    "codes-after-readings": "codes-after",
    "road-ready": "road-ready",
    "road-dry": "road-dry",
    "hand-over-still": "end-still",
    "hand-over-codes": "hand-over-codes",
    "hand-over-signed": "hand-over-signed",
    "hand-over-dry": "hand-over-dry",
    "abandon-gun-away": "abandon-gun-away",
    "abandon-tagged": "abandon-tagged",
    "no-trip-latched": "latched-stalled",
    "start-no-fluid-trip": "latched-stalled",
    "reset-possible": "reset-not-terminal",
    "reset-recovered": "reset-recovered",
    "reset-fluid": "reset-without-fluid",
    "reset-attended": "reset-controls",
}
"""Interlock -> the monitor that breaks when the row is taken out. Written by hand."""

ALSO_BREAKS: dict[str, tuple[str, ...]] = {
    "revs-hose-on": ("read-hose-on", "hand-over-hose"),
    "revs-gun-away": ("gun-away", "end-gun-away"),
    "revs-line-clear": ("line-clear",),
    "reset-attended": ("reset-secured", "reset-fumes", "reset-hands"),
    "spray-check": tuple(
        f"fluid-check-{fact}" for fact in ("identity", "agreed", "triage", "sheet", "tier")
    ),
    "start-check": tuple(f"start-check-{fact}" for fact in ("engine", "soak", "hose", "gun")),
    "hand-over-signed": tuple(
        f"release-check-{fact}" for fact in ("hose", "gun", "engine", "codes")
    ),
}
"""Rows that serve several invariants by the acts they name."""


LATCHES: dict[str, tuple[str, ...]] = {
    "reset-not-terminal": ("trip fire",),
    "reset-recovered": ("trip stub",),
    "reset-without-fluid": ("trip stalled",),
    **dict.fromkeys(("reset-controls", "reset-secured", "reset-fumes"), ("trip unattended",)),
    "reset-hands": ("trip unattended", "fumes"),
}
"""A trip to be reset, for the monitors that are about resets, and what latches it."""


def monitors_of(row: str) -> tuple[str, ...]:
    """Every monitor that breaks without the row of that id, the main one first.

    Raises:
        KeyError: there is no such row.
    """
    return BREAKS[row], *ALSO_BREAKS.get(row, ())
