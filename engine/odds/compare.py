"""Two to four questions of any kind, side by side."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from engine.odds import questions, words
from engine.odds.attack import AttackAnswer
from engine.odds.check import CheckAnswer
from engine.odds.concentration import ConcentrationAnswer
from engine.odds.contest import ContestAnswer
from engine.odds.death import DeathAnswer
from engine.odds.dice import DiceAnswer
from engine.odds.distribution import Distribution, as_text
from engine.odds.fell import FellAnswer
from engine.odds.group import GroupAnswer
from engine.odds.limits import outside
from engine.odds.questions import Answer, Question
from engine.odds.save import SaveAnswer
from engine.odds.scores import ScoresAnswer
from engine.problem import Refused

MOST = 4
QUANTILES = (0.1, 0.5, 0.9)


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """A question and the short name it has in the comparison."""

    label: str
    question: Question


@dataclass(frozen=True, slots=True, kw_only=True)
class Compare:
    """Two to four questions; their kinds may differ."""

    items: tuple[Item, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One question of a comparison.

    chance_of: what `chance` is the chance of, None where the question has no single one; fraction: the same
    exactly, or None. of: what `spread` counts, such as damage a round; both None where nothing is counted.
    answer: the whole answer.
    """

    label: str
    chance_of: str | None
    chance: float | None
    fraction: Fraction | None
    of: str | None
    spread: Distribution | None
    answer: Answer


@dataclass(frozen=True, slots=True, kw_only=True)
class CompareAnswer:
    """The rows of a comparison, in the order asked.

    alike: whether all rows give the chance of the same thing. best: labels of the rows with the highest
    chance, or where the kinds differ or have no chance, empty.
    """

    question: Compare
    rows: tuple[Row, ...]
    alike: bool
    best: tuple[str, ...]


def answer_compare(question: Compare) -> CompareAnswer | Refused:
    """Return the answers side by side, or the first refusal, with the label of the question it belongs to."""
    problem = outside("The number of questions to compare", len(question.items), 2, MOST)
    if problem is not None:
        return problem
    rows = []
    for item in question.items:
        answer = questions.ask(item.question)
        if isinstance(answer, Refused):
            return Refused(answer.code, f"{item.label}: {answer.sentence}")
        rows.append(_row(item.label, answer))
    alike = len({(row.chance_of, row.of) for row in rows}) == 1
    chances = [row.chance for row in rows if row.chance is not None]
    best = tuple(row.label for row in rows if row.chance == max(chances)) if alike and chances else ()
    return CompareAnswer(question=question, rows=tuple(rows), alike=alike, best=best)


def as_json(answer: CompareAnswer) -> dict[str, Any]:
    """Return the comparison as plain data: rows (label, chance, mean, quantiles, answer), alike, best."""
    return {"rows": [_row_json(row) for row in answer.rows], "alike": answer.alike, "best": list(answer.best)}


def _row_json(row: Row) -> dict[str, Any]:
    spread = row.spread
    return {
        "label": row.label,
        "chance_of": row.chance_of,
        "chance": row.chance,
        "fraction": as_text(row.fraction),
        "words": None if row.chance is None else words.chance(row.fraction if row.fraction is not None else row.chance),
        "of": row.of,
        "mean": None if spread is None else spread.mean(),
        "sd": None if spread is None else spread.sd(),
        "quantiles": {} if spread is None else {f"{share:g}": spread.quantile(share) for share in QUANTILES},
        "answer": questions.as_json(row.answer),
    }


def _row(label: str, answer: Answer) -> Row:
    chance: float | None
    match answer:
        case CheckAnswer(success=chance, fraction=fraction, total=spread):
            told, of = "success", "total"
        case SaveAnswer(fail=chance, fraction=fraction, damage=spread):
            told, of = "a failed save", "damage to one target"
        case AttackAnswer(hit=chance, hit_fraction=fraction, damage=spread):
            told, of = "a hit", "damage a round"
        case ContestAnswer(win=chance, fraction=fraction):
            return _bare(label, "winning the contest", chance, fraction, answer)
        case GroupAnswer(success=chance, fraction=fraction, successes=spread):
            told, of = "the group's success", "members who succeed"
        case FellAnswer(number=spread):
            return Row(
                label=label,
                chance_of=None,
                chance=None,
                fraction=None,
                of="creatures that fall",
                spread=spread,
                answer=answer,
            )
        case ConcentrationAnswer(hold=chance, fraction=fraction):
            return _bare(label, "holding concentration", chance, fraction, answer)
        case DeathAnswer(live=chance, fraction=fraction):
            return _bare(label, "living", chance, fraction, answer)
        case ScoresAnswer(chance=chance, fraction=fraction):
            return _bare(label, "meeting the minimums", chance, fraction, answer)
        case DiceAnswer(reach=chance, fraction=fraction, total=spread):
            told = "reaching the total" if chance is not None else ""
            of = "total"
    return Row(
        label=label,
        chance_of=told or None,
        chance=chance,
        fraction=fraction,
        of=of,
        spread=spread,
        answer=answer,
    )


def _bare(label: str, told: str, chance: float, fraction: Fraction | None, answer: Answer) -> Row:
    return Row(label=label, chance_of=told, chance=chance, fraction=fraction, of=None, spread=None, answer=answer)
