"""Figures five rows high, to be read from the other end of the vehicle. Plain characters only."""

_FIGURES = {
    "0": ("####", "#  #", "#  #", "#  #", "####"),
    "1": ("  # ", " ## ", "  # ", "  # ", " ###"),
    "2": ("####", "   #", "####", "#   ", "####"),
    "3": ("####", "   #", " ###", "   #", "####"),
    "4": ("#  #", "#  #", "####", "   #", "   #"),
    "5": ("####", "#   ", "####", "   #", "####"),
    "6": ("####", "#   ", "####", "#  #", "####"),
    "7": ("####", "   #", "  # ", " #  ", " #  "),
    "8": ("####", "#  #", "####", "#  #", "####"),
    "9": ("####", "#  #", "####", "   #", "####"),
}
HEIGHT = 5


def big(number: str) -> list[str]:
    """The digits of ``number``, five rows high, each drawn with its own figure.

    Raises KeyError for anything but digits.
    """
    drawn = [
        "  ".join(_FIGURES[digit][row].replace("#", digit) for digit in number)
        for row in range(HEIGHT)
    ]
    return [line.rstrip() for line in drawn]
