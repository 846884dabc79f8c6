"""`python -m cutopt.cli`."""

import sys

from cutopt.cli import main

if __name__ == "__main__":
    sys.exit(main())
