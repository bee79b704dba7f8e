"""Formulas in SI floats: gas, exhaust flow, filter pressure drop, cooling, drying, room air."""
