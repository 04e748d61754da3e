"""``python -m solidify``: the same as the command ``solidify``."""

import sys

from solidify.cli import main

if __name__ == "__main__":
    sys.exit(main())
