"""``python -m bridge`` is the same as ``treadle``."""

import sys

from bridge.faces.cli import main

if __name__ == "__main__":
    sys.exit(main())
