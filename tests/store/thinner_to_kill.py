"""Thins a store out in small steps and says so after each, until it is killed or nothing is left to do."""

import sys

from agent.store import Store
from tests.store.test_keeping import numbered

if __name__ == "__main__":
    with Store.open(sys.argv[1]) as store:
        while store.thin(2**62, int(sys.argv[2]), numbered, {}):
            sys.stdout.write("one more\n")
            sys.stdout.flush()
