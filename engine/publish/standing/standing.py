"""The standing of a build: every level measured against the reference builds, and what that says in plain sentences."""

from __future__ import annotations

import gc
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

from engine.audit.context import AuditContext
from engine.build.document import Build
from engine.build.outline import parse_outline
from engine.publish.references import outlines
from engine.publish.standing.damage import Level
from engine.publish.standing.gaps import gaps
from engine.publish.standing.measures import MEASURES, Measured, called, measured, told
from engine.publish.standing.ranks import Rank, percentile_sorted, rank_sorted
from engine.publish.standing.typical import FEWEST, Typical, typical
from engine.publish.words import capital, still_open
from engine.rules.catalog import Catalog
from engine.sheet.gather import gather
from engine.sheet.plan import Plan

SENTENCES: Final = 3
RUNS: Final = 3
FIRST_QUARTILE: Final = 25.0
RULE: Final = (
    f"Typical of a level are the release's creatures of that challenge, with neighbouring challenges where fewer than"
    f" {FEWEST} are printed; armor class, hit points and saves are their middle values. Percentile: share of the"
    " reference builds below, equal ones counted half."
)


@dataclass(frozen=True, slots=True)
class Standing:
    """What was found. All sentences carry their figures.

    ranks: for level 1 and up, measure -> rank among the references. strengths, weaknesses: three sentences each, the
    most telling first. weak_levels: the longest runs of levels (first, last) at which the build's mean percentile is
    below the first quartile of the references' own. gaps: what it cannot do at its last level. counts: one sentence a
    level about the creatures that count as typical. partial: why not everything could be said, empty if all could.
    """

    name: str
    ranks: tuple[Mapping[str, Rank], ...]
    strengths: tuple[str, ...]
    weaknesses: tuple[str, ...]
    weak_levels: tuple[tuple[int, int], ...]
    gaps: tuple[str, ...]
    counts: tuple[str, ...]
    partial: tuple[str, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """Return the outside form: `{"levels", "strengths", "weaknesses", "weak_levels"}`."""
        return {
            "levels": [
                {
                    "level": level,
                    "ranks": {
                        name: {"value": _plain(r.value), "percentile": round(r.percentile, 6), "of": r.of}
                        for name, r in ranks.items()
                    },
                }
                for level, ranks in enumerate(self.ranks, 1)
            ],
            "strengths": list(self.strengths),
            "weaknesses": list(self.weaknesses),
            "weak_levels": [list(run) for run in self.weak_levels],
        }


@dataclass(frozen=True, slots=True)
class References:
    """The reference builds measured.

    values: for each level, measure -> values of all builds from low to high. overall: for each level, the builds' own
    mean percentiles from low to high.
    """

    count: int
    values: tuple[Mapping[str, Sequence[float]], ...]
    overall: tuple[Sequence[float], ...]
    typical: tuple[Typical, ...]


def measured_levels(build: Build, catalog: Catalog, typical: Sequence[Typical]) -> list[Measured]:
    """Return a build measured at each of its levels, the last with all its numbers. Costs about a timeline."""
    plan = Plan(gather(build, catalog))
    return [
        measured(Level(plan, level, brief=level < build.top), typical[level - 1]) for level in range(1, build.top + 1)
    ]


@lru_cache(maxsize=4)
def references(catalog: Catalog) -> References | None:
    """Return the reference builds of a catalogue, measured; None for a release that they are not made for.

    Worked out once for each catalogue; costs about as much as a timeline of each.
    """
    collecting = gc.isenabled()
    gc.disable()  # many small objects, none of them in circles: collecting in between only costs time
    try:
        return _references(catalog)
    finally:
        if collecting:
            gc.enable()


def _references(catalog: Catalog) -> References | None:
    levels = typical(catalog)
    builds = [parse_outline(text, catalog) for text in outlines()]
    found = [build for build in builds if isinstance(build, Build) and build.rules == catalog.folios[0].id]
    if not levels or len(found) < len(builds):
        return None
    each = [_values(build, catalog, levels) for build in found]
    by_level = list(zip(*each, strict=True))
    values = tuple({name: sorted(one[name] for one in at) for name in MEASURES} for at in by_level)
    overall = tuple(sorted(_overall(all_, one) for one in at) for all_, at in zip(values, by_level, strict=True))
    return References(len(found), values, overall, levels)


def _values(build: Build, catalog: Catalog, typical: Sequence[Typical]) -> list[Mapping[str, float]]:
    """Return the measures at each level alone; what else a build is measured by is let go before the next one."""
    measured = measured_levels(build, catalog, typical)
    for one in measured:
        one.level.at.forget()
    return [one.values for one in measured]


def standing(build: Build, catalog: Catalog) -> Standing:
    """Return how a build stands at each of its levels, and what follows in words.

    A build without levels, or of a release without reference builds, gives an empty standing that says so in `partial`.
    """
    among = references(catalog)
    if among is None:
        why = f"there are no reference builds for {catalog.folios[0].title}"
        return Standing(build.name, (), (), (), (), (), (), (why,))
    if not build.top:
        return Standing(build.name, (), (), (), (), (), (), (f"{build.name} has no levels yet",))
    mine = measured_levels(build, catalog, among.typical)
    ranks = tuple(_ranks(values, one.values) for values, one in zip(among.values, mine, strict=False))
    means = {name: sum(at[name].percentile for at in ranks) / len(ranks) for name in MEASURES}
    order = sorted(MEASURES, key=lambda name: -means[name])
    top = build.top
    partial = [f"{build.name} ends at level {top}; nothing is said of later ones"] if top < len(among.typical) else []
    if left := still_open(AuditContext.of(build, catalog), top):
        partial.append(left)
    return Standing(
        name=build.name,
        ranks=ranks,
        strengths=tuple(_strong(name, ranks, means[name]) for name in order[:SENTENCES]),
        weaknesses=tuple(_weak(name, ranks, means[name]) for name in reversed(order[-SENTENCES:])),
        weak_levels=tuple(_weak_runs(ranks, among)),
        gaps=tuple(gaps(mine[-1], among.typical[top - 1], ranks[-1])),
        counts=tuple(
            f"Level {each.level}: {each.words}, armor class {each.ac}, {each.hp} hit points"
            for each in among.typical[:top]
        ),
        partial=tuple(partial),
    )


def _ranks(values: Mapping[str, Sequence[float]], mine: Mapping[str, float]) -> dict[str, Rank]:
    return {name: rank_sorted(values[name], mine[name]) for name in MEASURES}


def _overall(values: Mapping[str, Sequence[float]], mine: Mapping[str, float]) -> float:
    """Return the mean percentile over all measures."""
    return sum(percentile_sorted(others, mine[name]) for name, others in values.items()) / len(values)


def _weak_runs(ranks: Sequence[Mapping[str, Rank]], among: References) -> list[tuple[int, int]]:
    lagging = [
        percentile_sorted(among.overall[place], sum(rank.percentile for rank in each.values()) / len(each))
        < FIRST_QUARTILE
        for place, each in enumerate(ranks)
    ]
    runs: list[tuple[int, int]] = []
    for level, lags in enumerate(lagging, 1):
        if lags and runs and runs[-1][1] == level - 1:
            runs[-1] = (runs[-1][0], level)
        elif lags:
            runs.append((level, level))
    return sorted(runs, key=lambda run: (run[0] - run[1], run[0]))[:RUNS]


def _strong(name: str, ranks: Sequence[Mapping[str, Rank]], mean: float) -> str:
    best = max(range(len(ranks)), key=lambda place: (ranks[place][name].percentile, place))
    at = ranks[best][name]
    return (
        f"{capital(called(name))}: {told(name, at.value)} at level {best + 1}, above {at.below} of {at.of} reference"
        f" builds{_ties(at)}; {_over(ranks)} at percentile {mean:.0f}."
    )


def _weak(name: str, ranks: Sequence[Mapping[str, Rank]], mean: float) -> str:
    worst = min(range(len(ranks)), key=lambda place: (ranks[place][name].percentile, -place))
    at = ranks[worst][name]
    above = at.of - at.below - at.equal
    return (
        f"{capital(called(name))}: {told(name, at.value)} at level {worst + 1}, below {above} of {at.of} reference"
        f" builds{_ties(at)}; {_over(ranks)} at percentile {mean:.0f}."
    )


def _ties(at: Rank) -> str:
    return f" and level with {at.equal}" if at.equal else ""


def _over(ranks: Sequence[Mapping[str, Rank]]) -> str:
    return f"over levels 1 to {len(ranks)} on average" if len(ranks) > 1 else "there"


def _plain(value: float) -> int | float:
    return int(value) if value == int(value) else round(value, 6)
