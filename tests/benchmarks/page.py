"""How long the status page takes to make: `python -m tests.benchmarks.page [--modules 5 200 1000]`.

One module is assessed for the hours that the page shows; as many as are asked for get its assessments, and
readings of the last minutes. A report; nothing is asserted.
"""

import argparse
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from agent.readings import Reading
from agent.service.looking import look
from agent.service.pages import Pages
from agent.service.recent import HOURS
from agent.service.registering import register
from agent.settings import load
from agent.store import Store
from tests.service.site import GRACE_US, configuration, minute, plan, told, world, write

END = 60 * HOURS  # minute
Made = TypeVar("Made")


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--modules", type=int, nargs="+", default=[5, 200, 1000])
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="page-") as directory:
        folder = Path(directory)
        with world(folder, "one", plan(folder)) as one:
            one.receive(told(0, END, lambda now: 5.0 + now % 11 / 4))
            one.work(END)
            rows = [(grid_us, *words) for grid_us, words in one.assessed.items()]
        for number in asked.modules:
            run(folder, number, rows)


def run(folder: Path, number: int, rows: list[tuple[int, str, str]]) -> None:
    body = configuration(store={"url": f"sqlite:///of-{number}.db"})
    of_one = body["systems"]["one"]["modules"]["m1"]
    body["systems"]["one"]["modules"] = {f"m[1..{number}]": of_one}
    site, now_us = load(write(folder, body, f"of-{number}.yaml")), minute(END) + GRACE_US
    with Store.open(site.store_url) as store:
        for each in register(store, site, minute(0)):
            store.finish(each.module_id, each.revision_id, rows)
            readings = [
                Reading(sample_us, each.signal_ids[name], value, None, sample_us, 1)
                for sample_us, name, value in told(END - 15, END)
            ]
            store.add_batch(readings, [], [])
        pages = Pages(store, site, lambda: now_us)
        print(f"{number} modules")
        timed("looking at the store", lambda: look(store, site, now_us, search=False))
        timed("the first page", pages.status)
        page = timed("each after it", lambda: pages.status(still=True))
        print(f"  {len(page.encode()) / 1e3:.0f} kB of HTML")


def timed(what: str, made: Callable[[], Made]) -> Made:
    began_s, began_cpu_s = time.monotonic(), time.process_time()
    found = made()
    print(f"  {what}: {time.monotonic() - began_s:.2f} s, {time.process_time() - began_cpu_s:.2f} s of CPU")
    return found


if __name__ == "__main__":
    main()
