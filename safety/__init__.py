"""What may never happen at the vehicle, and the numbers behind it.

Plain Python: no clock, file, terminal, unit library or model library, and nothing
from ``runner``. The import contracts in ``pyproject.toml`` hold this room to that.
"""
