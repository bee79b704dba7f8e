"""Why a fact may be believed for as long as ``effects.LASTS_S`` says: the reason beside each age.

All are workshop defaults (common practice, no source). A reason says what moves meanwhile, and what
is left: nothing here shows that the time is safe. Shorter is always allowed; the tool asks anew.
"""

WHY_SO_LONG: dict[str, str] = {
    "port": "a hold leaves a core that goes on warming the pipe for minutes after a stop, and an "
    "idle warms it again; within 10 min a warm exhaust moves by some tens of degrees, which the "
    "limits' margins must bear",
    "touch": "as for the fluid: the same pipe, the same minutes",
    "hand_turn": "the turn, the checker's look, bar off and wheels down take about 10 min; fluid "
    "that still hangs above a valve may run on meanwhile, so it is short, and what moves ends it",
    "start_check": "as long as the turn that it looks at: an older look is about another engine",
    "idle": "a fault of the idle shows in minutes; the sag in the spray is watched all the time",
    "burning": "a burn lasts 10 to 20 min and may begin between two looks: the temperature is read "
    "with each pressure in the hold, and a linked vehicle says it at once",
    "controls": "nobody sits at a wheel for longer unasked; who leaves says so, or trips",
    "fumes": "an extraction hose creeps off within an hour of vibration; the alarm of the room "
    "stands above it",
    "kit": "gloves tear and goggles come off in an hour's work",
    "hands": "who was clear an hour ago has moved; each act that needs it asks for it at once too",
}
"""For each fact that grows old, the reason of its age."""
