"""Every published value beside ours, as Markdown: `python -m tests.published`.

The rows are those that the tests check. What is compared as a whole and not as a value (the examples of RFC
6901 and RFC 8428, colours, verdicts in words) stands in its test alone.
"""

from __future__ import annotations

from collections.abc import Sequence

from tests.published import (
    test_atmosphere,
    test_compression,
    test_efficiency,
    test_saturation,
    test_trade_facts,
    test_uncertainty,
)
from tests.published.rows import Row

SECTIONS: dict[str, Sequence[Row]] = {
    "Saturation": test_saturation.ROWS,
    "Standard atmosphere": test_atmosphere.ROWS,
    "Uncertainty": test_uncertainty.ROWS,
    "Discharge superheat of saturated suction": test_compression.ROWS,
    "Efficiency of a compression": test_efficiency.ROWS,
    "What the trade reads off some arrangements": test_trade_facts.ROWS,
}
HEADER = "| what | published | ours | difference | tolerance | source |\n|---|---|---|---|---|---|"


def main() -> None:
    found = {title: [(row, row.ours()) for row in rows] for title, rows in SECTIONS.items()}
    print("| | values | farthest from ours, of its tolerance |\n|---|---|---|")
    for title, rows in found.items():
        row, ours = max(rows, key=lambda each: abs(each[1] - each[0].value) / each[0].tolerance)
        share = abs(ours - row.value) / row.tolerance
        print(f"| {title} | {len(rows)} | {share:.0%}: {row.what} |")
    for title, rows in found.items():
        print(f"\n## {title}\n\n{HEADER}")
        for row, ours in rows:
            published = f"{row.value:.7g} {row.unit}".strip()
            figures = f"{published} | {ours:.7g} | {ours - row.value:+.1g} | {row.tolerance:.2g}"
            print(f"| {row.what} | {figures} | {row.source} |")


if __name__ == "__main__":
    main()
