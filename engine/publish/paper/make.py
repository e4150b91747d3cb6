"""Documents made by typst from a template of ours and plain data. typst is imported only where one is made."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Any, Final, Literal

from engine.build.document import Build
from engine.publish.paper.plan import plan_data
from engine.publish.paper.sheet import sheet_data
from engine.rules.catalog import Catalog

Paper = Literal["a4", "us-letter"]
Template = Literal["sheet", "plan"]
PAPERS: Final[tuple[Paper, ...]] = ("a4", "us-letter")
PICTURE_DPI: Final = 110.0


@dataclass(frozen=True, slots=True)
class Printed:
    """A document. pdf: its bytes. picture: its first page as PNG, empty if none was asked for."""

    pdf: bytes
    picture: bytes = b""


def sheet_pdf(build: Build, catalog: Catalog, level: int, paper: Paper = "a4") -> bytes:
    """Return the sheet of a build at a level as PDF. Raises: ValueError for a level that the build does not have."""
    return compiled("sheet", sheet_data(build, catalog, level), paper, "pdf")


def sheet_picture(build: Build, catalog: Catalog, level: int, paper: Paper = "a4") -> Printed:
    """Return the sheet of a build at a level as PDF, with a picture of its first page. Raises: as `sheet_pdf`."""
    data = sheet_data(build, catalog, level)
    return Printed(compiled("sheet", data, paper, "pdf"), compiled("sheet", data, paper, "png"))


def plan_pdf(build: Build, catalog: Catalog, paper: Paper = "a4") -> bytes:
    """Return the plan of all levels of a build, two pages, as PDF. Raises: ValueError for a build without levels."""
    return compiled("plan", plan_data(build, catalog), paper, "pdf")


def compiled(template: Template, data: Mapping[str, Any], paper: Paper, form: Literal["pdf", "png"]) -> bytes:
    """Return a template filled with data: a whole PDF, or its first page as PNG."""
    import typst

    inputs = {"data": json.dumps(data, ensure_ascii=False), "paper": paper}
    made = typst.compile(_source(template), sys_inputs=inputs, format=form, ppi=PICTURE_DPI)
    first = made[0] if isinstance(made, list) else made
    assert isinstance(first, bytes)
    return first


@lru_cache(maxsize=8)
def _source(template: Template) -> bytes:
    return (files(__name__.rpartition(".")[0]) / f"{template}.typ").read_bytes()
