"""``python -m steplatch.runner.cli``: the same as the command ``steplatch``."""

import sys

from .main import main

sys.exit(main())
