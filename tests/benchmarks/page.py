"""How long the status page takes to make.

One module is assessed for the hours that the page shows; as many as are asked for get its assessments, and
readings of the last minutes. A report; nothing is asserted.
"""

import tempfile
from collections.abc import Iterator
from pathlib import Path

from agent.readings import Reading
from agent.service.look.looking import look
from agent.service.look.pages import Pages
from agent.service.look.recent import HOURS
from agent.service.work.registering import register
from agent.settings import load
from agent.store import Store
from tests.benchmarks.rows import Row, cpu_s
from tests.service.site import GRACE_US, configuration, minute, plan, told, world, write

END = 60 * HOURS  # minute


def report(quick: bool) -> Iterator[Row]:
    with tempfile.TemporaryDirectory(prefix="page-") as directory:
        folder = Path(directory)
        with world(folder, "one", plan(folder)) as one:
            one.receive(told(0, END, lambda now: 5.0 + now % 11 / 4))
            one.work(END)
            rows = [(grid_us, *words) for grid_us, words in one.assessed.items()]
        for number in (5, 200) if quick else (5, 200, 1000):
            yield from of(folder, number, rows)


def of(folder: Path, number: int, rows: list[tuple[int, str, str]]) -> Iterator[Row]:
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
        held = {view.path: view for view in look(store, site, now_us)}  # as the running agent has them
        pages = Pages(store, site, lambda: now_us, held=held.get)
        first_s = cpu_s(pages.status)
        kept: list[str] = []
        again_s = cpu_s(lambda: kept.append(pages.status(still=True)))
        kilobytes = len(kept[0].encode()) / 1e3
        yield Row(f"status page of {number} modules, the first", f"{first_s:.2f} s")
        yield Row(f"status page of {number} modules, each after it", f"{again_s:.2f} s, {kilobytes:.0f} kB")
