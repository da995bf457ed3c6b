"""`python3 labs [WORDS…]`: set up once, then `coldbench WORDS…` (without words: `demo`)."""

import sys

sys.dont_write_bytecode = True  # the set-up leaves nothing behind but .venv

from bootstrap import start_kit  # noqa: E402

if __name__ == "__main__":
    sys.exit(start_kit(sys.argv[1:]))
