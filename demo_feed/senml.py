"""One sample instant of one module as a SenML JSON pack (RFC 8428). It must not know what the names mean."""

from collections.abc import Callable

import orjson


def encode(time_us: int, values: dict[str, float | int | str], unit: Callable[[str], str | None]) -> bytes:
    """Base time in the first record, to 1 ms; numbers as `v`, text as `vs`, `u` where there is a unit."""
    records: list[dict[str, float | int | str]] = []
    for name, value in values.items():
        record: dict[str, float | int | str] = {} if records else {"bt": time_us // 1000 / 1000}
        record["n"] = name
        named_unit = unit(name)
        if named_unit is not None:
            record["u"] = named_unit
        record["vs" if isinstance(value, str) else "v"] = value
        records.append(record)
    return orjson.dumps(records)
