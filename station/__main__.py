"""`python -m station`: the same as the `station` command."""

import sys

from station.commands.main import main

if __name__ == "__main__":
    sys.exit(main())
