"""Writes the reference pages anew."""

from __future__ import annotations

from tests.reference import FOLDER, PAGES, page


def main() -> None:
    FOLDER.mkdir(exist_ok=True)
    for name in PAGES:
        (FOLDER / name).write_text(page(name), encoding="utf-8")
        print(FOLDER / name)


if __name__ == "__main__":
    main()
