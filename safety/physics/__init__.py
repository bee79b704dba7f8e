"""Gas, exhaust flow, filter pressure drop, cylinder, cooling, drying, room air: SI floats."""
