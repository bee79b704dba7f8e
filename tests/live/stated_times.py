"""How soon the program says what the vehicle shows."""

STATED_MS = {
    "over_ceiling": 500,
    "stalled": 400,
    "self_started": 400,
    "regenerating": 3500,
    "sag": 700,
    "link_lost": 800,
}
"""Longest time from the moment it is so at the engine until the program says it, at ten questions
a second and a vehicle that renews its speed every 100 ms or faster; for the regeneration flag at
its own renewal of up to 1 s. Held by ``test_times.py`` over 1,000 runs each."""
