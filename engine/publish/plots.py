"""What a picture shows, as plain data: nothing here draws."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

Style = Literal["bars", "line", "steps", "names"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """One line or set of bars. points: (x, y); of style `names` x is the place in the panel's names, from 0."""

    label: str
    points: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """What is to be said of a point of a line: a letter stands beside it, the words below the panel."""

    x: float
    y: float
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """One pair of axes.

    x, y: what stands at the axes, with the unit. percent: y is a chance from 0 to 1. style: `bars`, `line` with marks,
    `steps` for many points, `names` for lying bars. names: of style `names`, top to bottom. mark: an x to point out
    and what it is called. labels: what is said of points, of style `line`, at most 26.
    """

    x: str
    y: str
    series: tuple[Series, ...]
    style: Style = "line"
    percent: bool = True
    names: tuple[str, ...] = ()
    mark: tuple[float, str] | None = None
    labels: tuple[Label, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Plot:
    """A picture. title: what it shows. source: the line under it. alt: its message in words, for who cannot see it."""

    title: str
    panels: tuple[Panel, ...]
    source: str
    alt: str = field(default="")
