"""`python3 labs [WORDS…]`: set up once, then `coldbench WORDS…` (without words: `demo`)."""

import sys

from bootstrap import start_kit

if __name__ == "__main__":
    sys.exit(start_kit(sys.argv[1:]))
