"""Published properties of fluids, from a library that takes seconds to load: when first asked."""


def props(*asked: str | float) -> float:
    """One property, as ``CoolProp.PropsSI`` has it: SI units; raises ValueError as it does."""
    from CoolProp.CoolProp import PropsSI

    return float(PropsSI(*asked))
