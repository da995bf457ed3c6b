"""`python3 tests [ARGUMENTS…]`: set up once with the test packages, then `pytest ARGUMENTS…`."""

import os
import sys

sys.dont_write_bytecode = True  # the set-up leaves nothing behind but .venv
REPOSITORY = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
sys.path.insert(0, os.path.join(REPOSITORY, "labs"))

from bootstrap import start_tests  # noqa: E402

if __name__ == "__main__":
    sys.exit(start_tests(sys.argv[1:]))
