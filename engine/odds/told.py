"""An answer in lines that people read: the answer first, then what was counted, then a few figures."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from engine.odds.attack import AttackAnswer, by_armor_class
from engine.odds.check import CheckAnswer
from engine.odds.compare import CompareAnswer
from engine.odds.concentration import ConcentrationAnswer
from engine.odds.contest import ContestAnswer
from engine.odds.d20 import in_words
from engine.odds.death import DeathAnswer
from engine.odds.dice import DiceAnswer
from engine.odds.distribution import Distribution
from engine.odds.fell import FellAnswer
from engine.odds.group import GroupAnswer
from engine.odds.questions import Answer
from engine.odds.save import SaveAnswer
from engine.odds.scores import ScoresAnswer
from engine.odds.words import chance, people_say, percent, plain, times
from engine.problem import Refused

SHOWN_DCS = (5, 10, 12, 15, 18, 20, 22, 25, 30)
SHOWN_ACS = (10, 12, 14, 16, 18, 20, 22)
MOST_ROWS = 12
LONG_FRACTION = 10**9


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """An answer in words.

    answer: one line that answers the question. counted: what was counted. left_out: what was not, empty where
    nothing is left out. lines: figures, each line short enough for a phone. table: one line of a small table.
    """

    answer: str
    counted: str
    left_out: str
    lines: tuple[str, ...]
    table: str = ""


def told(answer: Answer | CompareAnswer) -> Told:
    """Return the answer to any question, or to a comparison, in words."""
    match answer:
        case CheckAnswer():
            return _check(answer)
        case SaveAnswer():
            return _save(answer)
        case AttackAnswer():
            return _attack(answer)
        case ContestAnswer():
            return _contest(answer)
        case GroupAnswer():
            return _group(answer)
        case FellAnswer():
            return _fell(answer)
        case ConcentrationAnswer():
            return _concentration(answer)
        case DeathAnswer():
            return _death(answer)
        case ScoresAnswer():
            return _scores(answer)
        case DiceAnswer():
            return _dice(answer)
        case CompareAnswer():
            return _compare(answer)


def exactly(fraction: Fraction | None) -> str:
    """Return `exactly 11/20`, or nothing where there is no fraction short enough to say anything."""
    if fraction is None or fraction.denominator >= LONG_FRACTION or fraction.denominator == 1:
        return ""
    return f"exactly {fraction.numerator}/{fraction.denominator}"


def _told(answer: str, counted: str, left_out: str, *lines: str, table: str = "") -> Told:
    return Told(
        answer=answer, counted=counted, left_out=left_out, lines=tuple(line for line in lines if line), table=table
    )


def _check(answer: CheckAnswer) -> Told:
    said = _best(answer.fraction, answer.success)
    shown = {dc: answer.table[dc] for dc in SHOWN_DCS}
    if answer.total.high in answer.table:
        # The last DC within reach says more than the zeros after it.
        shown[answer.total.high] = answer.table[answer.total.high]
    past = [dc for dc in sorted(shown) if dc > answer.total.high]
    table = " · ".join(f"{dc} {percent(shown[dc])}" for dc in sorted(shown) if dc not in past[1:])
    return _told(
        f"{percent(said)} to reach DC {answer.question.dc} ({people_say(said)})",
        f"total {in_words(answer.question)}",
        "dice that others lend, cover, states not switched on",
        f"with advantage {chance(answer.with_advantage)} · with disadvantage {chance(answer.with_disadvantage)}",
        f"{exactly(answer.fraction) or 'exact fraction too long to show'} · mean total {plain(answer.total.mean())}",
        table=f"DC {table}",
    )


def _save(answer: SaveAnswer) -> Told:
    question = answer.question
    said = _best(answer.fraction, answer.fail)
    lines = [exactly(answer.fraction)]
    hurts = answer.damage.high > 0
    if hurts:
        lines.append(f"damage to one target: mean {plain(answer.damage.mean())}, {_middle(answer.damage)}")
    table = ""
    if question.targets > 1:
        lines.append(
            f"of {question.targets} targets {plain(answer.failures.mean())} fail on average"
            + (f", {plain(answer.total_mean)} damage in all" if hurts else "")
        )
        table = "fail: " + _spread(answer.failures)
    return _told(
        f"{percent(said)} to fail against DC {question.dc} ({people_say(said)})",
        answer.basis,
        "dice that others lend, cover, whatever else the effect does",
        *lines,
        table=table,
    )


def _attack(answer: AttackAnswer) -> Told:
    question = answer.question
    said = _best(answer.hit_fraction, answer.hit)
    lines = [
        f"critical {chance(_best(answer.critical_fraction, answer.critical))}"
        + (f" · at least one hit {chance(answer.any_hit)}" if question.attacks > 1 else ""),
        f"damage a round: mean {plain(answer.damage.mean())}, {_middle(answer.damage)}"
        f" · a normal hit {plain(answer.per_hit)}",
    ]
    if answer.down:
        rounds = " · ".join(f"{number}: {percent(share)}" for number, share in enumerate(answer.down, 1))
        lines.append(f"{question.hit_points} hit points are gone after round {rounds}")
    rows = by_armor_class(question, SHOWN_ACS[0], SHOWN_ACS[-1])
    table = ""
    if not isinstance(rows, Refused):
        table = "armor class " + " · ".join(
            f"{row.ac} {percent(row.hit)}, {plain(row.mean)}" for row in rows if row.ac in SHOWN_ACS
        )
    return _told(
        f"{percent(said)} to hit armor class {question.ac} ({people_say(said)}), {plain(answer.damage.mean())} damage"
        " a round",
        answer.basis,
        "dice that others lend, cover, reactions, states not switched on",
        *lines,
        table=table,
    )


def _contest(answer: ContestAnswer) -> Told:
    said = _best(answer.fraction, answer.win)
    return _told(
        f"{percent(said)} to win the contest ({people_say(said)})",
        answer.basis,
        "dice that others lend, states not switched on",
        f"higher {percent(answer.ahead)} · equal {percent(answer.tie)} · lower {percent(answer.behind)}",
        exactly(answer.fraction),
    )


def _group(answer: GroupAnswer) -> Told:
    said = _best(answer.fraction, answer.success)
    size = len(answer.each)
    return _told(
        f"{percent(said)} for the group to succeed ({people_say(said)})",
        answer.basis,
        "dice that others lend, states not switched on",
        f"{answer.needed} of {size} must reach DC {answer.question.dc}; {plain(answer.successes.mean())} do on average",
        "each: " + ", ".join(percent(one) for one in answer.each),
        exactly(answer.fraction),
        table="succeed: " + _spread(answer.successes),
    )


def _fell(answer: FellAnswer) -> Told:
    rows = [
        f"{one.creature.name}, {one.creature.hit_points} hit points: {chance(_best(one.fraction, one.chance))},"
        f" from {one.needs}"
        for one in answer.falls[:MOST_ROWS]
    ]
    if len(answer.falls) > MOST_ROWS:
        rows.append(f"and {len(answer.falls) - MOST_ROWS} more")
    return _told(
        f"{plain(answer.number.mean())} of {times(len(answer.falls), 'creature')} fall on average",
        answer.basis,
        "creatures that the effect cannot take",
        f"mean total {plain(answer.total.mean())}, {_middle(answer.total)}",
        *rows,
        table="fall: " + _spread(answer.number),
    )


def _concentration(answer: ConcentrationAnswer) -> Told:
    said = _best(answer.fraction, answer.hold)
    rows = []
    for number, hit in enumerate(answer.hits[:MOST_ROWS], 1):
        dc = f"DC {hit.lowest_dc}" + (f" to {hit.highest_dc}" if hit.highest_dc != hit.lowest_dc else "")
        if not hit.highest_dc:
            dc = "no save"
        rows.append(f"hit {number}, {hit.damage}: {dc}, holds {percent(hit.hold)}, still {percent(hit.still)}")
    if len(answer.hits) > MOST_ROWS:
        rows.append(f"and {len(answer.hits) - MOST_ROWS} more")
    return _told(
        f"{percent(said)} to hold through {times(len(answer.hits), 'hit')} ({people_say(said)})",
        answer.basis,
        "what ends it without a save, dice that others lend",
        *rows,
        exactly(answer.fraction),
    )


def _death(answer: DeathAnswer) -> Told:
    said = _best(answer.fraction, answer.live)
    rows = [
        f"after throw {row.number}: stable {percent(row.stable)}, up {percent(row.up)}, dead {percent(row.dead)}"
        for row in answer.by_round
    ]
    hit = []
    if answer.drops is not None and answer.outright is not None:
        hit = [f"the hit drops {percent(answer.drops)} · kills outright {percent(answer.outright)}"]
    return _told(
        f"{percent(said)} to live {'once down ' if hit else ''}({people_say(said)})",
        answer.basis,
        "healing, damage while down, dice that others lend",
        *hit,
        f"stable {percent(answer.stable)} · up with 1 hit point {percent(answer.up)} · dead {percent(answer.dead)}",
        f"decided after {plain(answer.rounds)} throws on average",
        *rows,
        exactly(answer.fraction),
    )


def _scores(answer: ScoresAnswer) -> Told:
    said = _best(answer.fraction, answer.chance)
    return _told(
        f"{percent(said)} to meet the minimums ({people_say(said)})",
        answer.basis,
        "increases of species, background and level",
        exactly(answer.fraction),
        f"one score: mean {plain(answer.one.mean())}, {_middle(answer.one)}",
        "from the highest: " + ", ".join(plain(mean) for mean in answer.sorted_means) + " on average",
    )


def _dice(answer: DiceAnswer) -> Told:
    total = answer.total
    first = f"{plain(total.mean())} on average"
    if answer.reach is not None:
        said = _best(answer.fraction, answer.reach)
        first = f"{percent(said)} for {answer.question.at_least} or more ({people_say(said)})"
    return _told(
        first,
        answer.basis,
        "",
        exactly(answer.fraction),
        f"mean {total.mean():.4g}, deviation {total.sd():.3g}, from {total.low} to {total.high}",
        "at most: " + " · ".join(f"{value} in {percent(share)}" for share, value in answer.quantiles.items()),
    )


def _compare(answer: CompareAnswer) -> Told:
    rows = []
    for row in answer.rows:
        parts = []
        if row.chance is not None:
            parts.append(f"{chance(_best(row.fraction, row.chance))} for {row.chance_of}")
        if row.spread is not None:
            parts.append(f"{row.of} {plain(row.spread.mean())} on average")
        rows.append(f"{row.label}: {', '.join(parts)}")
    if not answer.best:
        first = f"{len(answer.rows)} questions side by side"
    elif len(answer.best) == 1:
        first = f"{answer.best[0]} has the best chance"
    else:
        first = f"{' and '.join(answer.best)} have the same chance"
    counted = tuple(f"{row.label}: {told(row.answer).counted}" for row in answer.rows)
    return Told(
        answer=first,
        counted=f"{len(answer.rows)} questions, each answered on its own",
        left_out="dice that others lend, cover, states not switched on",
        lines=(*rows, *counted),
    )


def _best(fraction: Fraction | None, value: float) -> Fraction | float:
    return value if fraction is None else fraction


def _middle(spread: Distribution) -> str:
    """Return where eight of ten results lie."""
    low, high = spread.quantile(0.1), spread.quantile(0.9)
    return f"mostly {low} to {high}" if low != high else f"mostly {low}"


def _spread(counted: Distribution) -> str:
    """Return the chances of a small count, those above 0.5 % in order."""
    shown = [(value, share) for value, share in counted.pmf().items() if share >= 0.005]
    text = " · ".join(f"{value} {percent(share)}" for value, share in shown[:MOST_ROWS])
    return text if len(shown) <= MOST_ROWS else f"{text} …"
