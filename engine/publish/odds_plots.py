"""Which picture an answer of the odds gets, as plain data, with its message in words."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Final

from engine.odds.attack import AttackAnswer, by_armor_class
from engine.odds.check import CheckAnswer, answer_check
from engine.odds.compare import CompareAnswer, Row
from engine.odds.concentration import ConcentrationAnswer
from engine.odds.contest import ContestAnswer
from engine.odds.death import DeathAnswer
from engine.odds.dice import DiceAnswer
from engine.odds.distribution import Distribution
from engine.odds.fell import FellAnswer
from engine.odds.group import GroupAnswer
from engine.odds.questions import Answer
from engine.odds.save import SaveAnswer
from engine.odds.scores import ScoresAnswer
from engine.odds.told import told
from engine.odds.words import percent, plain, times
from engine.problem import Refused
from engine.publish.plots import Panel, Plot, Series

SOURCE: Final = "Exact chances, worked out by Buildmoot"
BY_ARMOR_CLASS: Final = "armor class"
MOST_BARS: Final = 60
MOST_POINTS: Final = 300
TAIL: Final = 0.0005


def plot_of(answer: Answer | CompareAnswer, wanted: str = "", rules: str = "") -> Plot:
    """Return the picture of an answer.

    wanted: `armor class` for an attack's chances by armor class; every answer has one other picture. rules: name of
    the rules release for the source line, empty where only dice are counted.
    """
    source = f"{SOURCE}; rules: {rules}" if rules else SOURCE
    match answer:
        case CheckAnswer():
            plot = _check(answer)
        case AttackAnswer():
            plot = _by_armor_class(answer) if wanted == BY_ARMOR_CLASS else _damage(answer)
        case SaveAnswer():
            plot = _save(answer)
        case ConcentrationAnswer():
            plot = _concentration(answer)
        case CompareAnswer():
            plot = _compare(answer)
        case DiceAnswer():
            plot = _counted(answer, answer.total, f"Total of {answer.basis}", "total")
        case GroupAnswer():
            plot = _counted(answer, answer.successes, "How many of the group succeed", "members who succeed")
        case FellAnswer():
            plot = _counted(answer, answer.number, "How many creatures fall", "creatures that fall")
        case ScoresAnswer():
            plot = _counted(answer, answer.one, "One rolled score", "score")
        case ContestAnswer():
            plot = _contest(answer)
        case DeathAnswer():
            plot = _death(answer)
    return replace(plot, source=source, alt=plot.alt[:1024])


def _plot(title: str, alt: str, *panels: Panel) -> Plot:
    return Plot(title=title, panels=panels, source=SOURCE, alt=alt)


def _check(answer: CheckAnswer) -> Plot:
    question = answer.question
    series = []
    for label, better, worse in (
        ("plain", False, False),
        ("with advantage", True, False),
        ("with disadvantage", False, True),
    ):
        other = answer_check(replace(question, advantage=better, disadvantage=worse))
        table = answer.table if isinstance(other, Refused) else other.table
        series.append(Series(label=label, points=tuple((float(dc), chance) for dc, chance in table.items())))
    here = (float(question.dc), f"DC {question.dc}") if question.dc in answer.table else None
    alt = (
        f"Chance by DC from 5 to 30 for a {told(answer).counted}. {told(answer).answer};"
        f" with advantage {percent(answer.with_advantage)}, with disadvantage {percent(answer.with_disadvantage)}."
        f" At DC 10 {percent(answer.table[10])}, at DC 15 {percent(answer.table[15])},"
        f" at DC 20 {percent(answer.table[20])}."
    )
    panel = Panel(x="difficulty class (DC)", y="chance of success (%)", series=tuple(series), style="line", mark=here)
    return _plot("Chance of success by DC", alt, panel)


def _damage(answer: AttackAnswer) -> Plot:
    spread = answer.damage
    alt = (
        f"Damage of one round. {told(answer).answer}. No damage at all {percent(spread.chance(0))},"
        f" half of all rounds {spread.quantile(0.5)} or less, nine of ten {spread.quantile(0.9)} or less."
    )
    panel = _spread(spread, "damage in one round (hit points)", spread.mean())
    return _plot(f"Damage a round against armor class {answer.question.ac}", alt, panel)


def _by_armor_class(answer: AttackAnswer) -> Plot:
    rows = by_armor_class(answer.question)
    if isinstance(rows, Refused):
        raise AssertionError("a question that was answered has an answer for every armor class")
    at = float(answer.question.ac)
    mark = (at, f"armor class {answer.question.ac}") if rows[0].ac <= at <= rows[-1].ac else None
    hits = Series(label="chance to hit", points=tuple((float(row.ac), row.hit) for row in rows))
    means = Series(label="mean damage", points=tuple((float(row.ac), row.mean) for row in rows))
    low, high = rows[0], rows[-1]
    alt = (
        f"Chance to hit and mean damage a round by armor class. Against {low.ac} {percent(low.hit)} and"
        f" {plain(low.mean)} damage; against {high.ac} {percent(high.hit)} and {plain(high.mean)}."
        f" {told(answer).answer}."
    )
    first = Panel(x="armor class", y="chance to hit (%)", series=(hits,), style="line", mark=mark)
    second = Panel(
        x="armor class", y="mean damage a round (hit points)", series=(means,), percent=False, style="line", mark=mark
    )
    return _plot("Hit chance and damage by armor class", alt, first, second)


def _save(answer: SaveAnswer) -> Plot:
    if answer.damage.high > 0:
        spread = answer.damage
        alt = (
            f"Damage to one target. {told(answer).answer}; mean {plain(spread.mean())},"
            f" half of all results {spread.quantile(0.5)} or less."
        )
        panel = _spread(spread, "damage to one target (hit points)", spread.mean())
        return _plot(f"Damage to one target, save DC {answer.question.dc}", alt, panel)
    return _counted(answer, answer.failures, "How many targets fail", "targets that fail")


def _concentration(answer: ConcentrationAnswer) -> Plot:
    still = tuple((float(number), hit.still) for number, hit in enumerate(answer.hits, 1))
    alone = tuple((float(number), hit.hold) for number, hit in enumerate(answer.hits, 1))
    first, last = answer.hits[0], answer.hits[-1]
    alt = (
        f"Chance still to concentrate after each of {times(len(answer.hits), 'hit')}: {percent(first.still)} after the"
        f" first, {percent(last.still)} after the last."
    )
    series = (Series(label="still concentrating", points=still), Series(label="this save alone", points=alone))
    panel = Panel(x="hit", y="chance (%)", series=series, style="line")
    return _plot("Concentration after each hit", alt, panel)


def _compare(answer: CompareAnswer) -> Plot:
    rows = answer.rows
    said = "; ".join(_row_words(row) for row in rows)
    spreads = [row for row in rows if row.spread is not None]
    if answer.alike and len(spreads) == len(rows) and rows[0].of != "total":
        series = tuple(Series(label=row.label, points=_tail(row.spread)) for row in rows if row.spread is not None)
        panel = Panel(x=f"{rows[0].of} of at least", y="chance (%)", series=series, style="steps")
        return _plot(f"Compared: {rows[0].of}", f"Chance of at least each value, side by side. {said}.", panel)
    if all(row.chance is not None for row in rows):
        points = tuple((float(place), row.chance or 0.0) for place, row in enumerate(rows))
        names = tuple(row.label for row in rows)
        what = f"chance of {rows[0].chance_of} (%)" if answer.alike else "chance (%)"
        panel = Panel(x=what, y="", series=(Series(label="chance", points=points),), style="names", names=names)
        return _plot("Compared: chances", f"Chances side by side. {said}.", panel)
    points = tuple((float(place), row.spread.mean() if row.spread else 0.0) for place, row in enumerate(rows))
    panel = Panel(
        x=f"mean {rows[0].of}" if answer.alike else "mean",
        y="",
        series=(Series(label="mean", points=points),),
        style="names",
        names=tuple(row.label for row in rows),
        percent=False,
    )
    return _plot("Compared: means", f"Means side by side. {said}.", panel)


def _contest(answer: ContestAnswer) -> Plot:
    points = ((0.0, answer.ahead), (1.0, answer.tie), (2.0, answer.behind))
    panel = Panel(
        x="chance (%)",
        y="",
        series=(Series(label="chance", points=points),),
        style="names",
        names=("first side higher", "tie", "other side higher"),
    )
    alt = f"{told(answer).answer}: higher {percent(answer.ahead)}, tie {percent(answer.tie)}."
    return _plot("Outcome of the contest", alt, panel)


def _death(answer: DeathAnswer) -> Plot:
    rounds = answer.by_round
    series = tuple(
        Series(label=label, points=tuple((float(row.number), getattr(row, name)) for row in rounds))
        for label, name in (("stable", "stable"), ("up", "up"), ("dead", "dead"), ("not decided", "open"))
    )
    panel = Panel(x="death saving throw", y="chance (%)", series=series, style="line")
    alt = (
        f"{told(answer).answer}; stable {percent(answer.stable)}, up {percent(answer.up)}, dead {percent(answer.dead)}."
    )
    return _plot("Death saving throws", alt, panel)


def _counted(answer: Any, spread: Distribution, title: str, what: str) -> Plot:
    alt = (
        f"{title}: mean {plain(spread.mean())}, half of all results {spread.quantile(0.5)} or less,"
        f" nine of ten {spread.quantile(0.9)} or less. {told(answer).answer}."
    )
    return _plot(title, alt, _spread(spread, what, spread.mean()))


def _spread(spread: Distribution, what: str, mean: float) -> Panel:
    """Return the chances of every result, of neighbours together where there are too many to draw."""
    low, high = spread.quantile(TAIL), spread.quantile(1 - TAIL)
    wide = high - low + 1
    lump = -(-wide // MOST_POINTS)
    points = []
    for start in range(low, high + 1, lump):
        share = sum(spread.chance(value) for value in range(start, min(start + lump, high + 1)))
        points.append((start + (lump - 1) / 2, share))
    each = "chance of each (%)" if lump == 1 else f"chance of each {lump} together (%)"
    style: Any = "bars" if wide <= MOST_BARS else "steps"
    return Panel(
        x=what,
        y=each,
        series=(Series(label=what, points=tuple(points)),),
        style=style,
        mark=(mean, f"mean {plain(mean)}"),
    )


def _tail(spread: Distribution | None) -> tuple[tuple[float, float], ...]:
    if spread is None:
        return ()
    low, high = spread.quantile(TAIL), spread.quantile(1 - TAIL)
    step = max(1, (high - low) // MOST_POINTS)
    return tuple((float(value), spread.at_least(value)) for value in range(low, high + 1, step))


def _row_words(row: Row) -> str:
    parts = [f"{percent(row.chance)} for {row.chance_of}"] if row.chance is not None else []
    if row.spread is not None:
        parts.append(f"mean {row.of} {plain(row.spread.mean())}")
    return f"{row.label}: {', '.join(parts)}"
