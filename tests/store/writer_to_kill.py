"""Stores numbered batches and reports each after its commit, until it is killed."""

import sys
from itertools import count

from agent.readings import Reading
from agent.store import Store

SIGNALS = 20

if __name__ == "__main__":
    with Store.open(sys.argv[1]) as store:
        for number in count(int(sys.argv[2])):
            store.add_batch(
                [Reading(number, signal, float(number), "degC", number, 1) for signal in range(SIGNALS)]
            )
            sys.stdout.write(f"{number}\n")
            sys.stdout.flush()
