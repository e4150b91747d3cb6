"""Reading the markdown tables of the rules text, and the money, weight and quantity cells in them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from tests.reference.figures import plain

COPPER = {"cp": 1, "sp": 10, "ep": 50, "gp": 100, "pp": 1000}
HALVES = {"½": Fraction(1, 2), "¼": Fraction(1, 4)}


@dataclass(frozen=True)
class Row:
    """One body row: the heading above its table, the column titles, the cells, the italic group row above."""

    heading: str
    titles: tuple[str, ...]
    cells: tuple[str, ...]
    group: str | None


def split_row(line: str) -> list[str]:
    """Cells of one table line, without emphasis marks and outer spaces."""
    return [cell.strip() for cell in line.strip().strip("|").split("|")]


def rows(text: str) -> Iterator[Row]:
    """Every body row of every table, in order. A group row (first cell italic, others empty) is no row itself."""
    heading = ""
    titles: tuple[str, ...] | None = None
    group: str | None = None
    for line in text.split("\n"):
        head = re.match(r"^#+ (.*)$", line) or re.fullmatch(r"\*\*([A-Z][\w ]+)\*\*", line.strip())
        if head:
            heading, titles = head[1].strip(), None
        if not line.lstrip().startswith("|"):
            titles = None
            continue
        raw = line.strip()[1:]
        cells = split_row(line)
        if titles is None:
            titles, group = tuple(plain(cell) for cell in cells), None
        elif set("".join(cells)) <= set("-: "):
            continue
        elif cells[0].startswith("*") and not any(cells[1:]):
            group = plain(cells[0])
        else:
            # A row under a group row is indented by spaces of its own; the first one that is not ends the group.
            if not re.match(r"^(\s{4,}|\s*(&nbsp;|\u00a0|\u2003))", raw):
                group = None
            yield Row(heading, titles, tuple(plain(cell) for cell in cells), group)


def number(cell: str) -> float | int:
    """A printed number: `1,320`, `1/4`, `1½`, `½`, or the first such in the cell; a dash is 0."""
    match = re.search(r"(\d[\d,]*)?\s*(½|¼)|(\d+)/(\d+)|(\d[\d,]*(?:\.\d+)?)", cell)
    if not match:
        return 0
    if match[2]:
        value = Fraction((match[1] or "0").replace(",", "")) + HALVES[match[2]]
    elif match[3]:
        value = Fraction(int(match[3]), int(match[4]))
    else:
        value = Fraction(match[5].replace(",", ""))
    return int(value) if value.denominator == 1 else float(value)


def copper(cell: str) -> int | None:
    """A price in copper pieces; None where the cell holds no price."""
    match = re.search(r"(\d[\d,]*) ?(cp|sp|ep|gp|pp)\b", cell)
    return int(match[1].replace(",", "")) * COPPER[match[2]] if match else None


def quantity(name: str) -> int:
    """How many pieces a price is for, from a name such as `Arrows (20)` or `Caltrops (bag of 20)`; else 1."""
    match = re.search(r"\((?:bag of )?(\d[\d,]*)\)", name)
    return int(match[1].replace(",", "")) if match else 1
