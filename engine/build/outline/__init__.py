"""The outline: the one text form for typing, pasting, reading and proposing a build, both ways."""

from engine.build.outline.errors import OutlineError
from engine.build.outline.levels import LevelLine
from engine.build.outline.parser import (
    CatalogFor,
    NamedFolio,
    named_folios,
    parse_line,
    parse_outline,
    replace_header,
    replace_level,
)
from engine.build.outline.printer import print_header, print_level, print_outline

__all__ = [
    "CatalogFor",
    "LevelLine",
    "NamedFolio",
    "OutlineError",
    "named_folios",
    "parse_line",
    "parse_outline",
    "print_header",
    "print_level",
    "print_outline",
    "replace_header",
    "replace_level",
]
