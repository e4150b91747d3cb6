"""Class tables narrow enough for a phone: 35 characters a line, long headings named in a legend above."""

from typing import Final

from engine.rules.content import ClassContent, Release

WIDEST: Final = 35
_NAMES: Final = "ABCDEFGH"


def class_tables(content: ClassContent, release: Release) -> tuple[str, ...]:
    """Return the class's table as one or two monospaced texts: what the class counts, then its spell slots.

    Every text has a heading line and a line for each of the 20 levels. A dash stands for nothing.
    """
    slots = {name.removeprefix("slots_"): cells for name, cells in content.tables.items() if name.startswith("slots_")}
    others = {name: cells for name, cells in content.tables.items() if not name.startswith("slots_")}
    legend = [f"{letter} {name.replace('_', ' ')}" for letter, name in zip(_NAMES, others, strict=False)]
    counted: dict[str, tuple[object, ...]] = {"PB": tuple(f"+{bonus}" for bonus in release.proficiency_bonus)}
    counted |= dict(zip(_NAMES, others.values(), strict=False))
    tables = ["\n".join(["PB proficiency bonus", *legend, *_grid(counted)])]
    if slots:
        tables.append("\n".join(["Spell slots by spell level", *_grid(dict(slots))]))
    return tuple(tables)


def _grid(columns: dict[str, tuple[object, ...]]) -> list[str]:
    cells = {head: [_cell(value) for value in values] for head, values in columns.items()}
    widths = {head: max(len(head), *(len(cell) for cell in column)) for head, column in cells.items()}
    lines = ["Lv " + " ".join(head.rjust(width) for head, width in widths.items())]
    for level in range(20):
        row = " ".join(cells[head][level].rjust(width) for head, width in widths.items())
        lines.append(f"{level + 1:>2} {row}")
    return lines


def _cell(value: object) -> str:
    if value is None:
        return "-"
    return "all" if value == "unlimited" else str(value)
