"""The score method a build names is part of its rules: array, point buy, rolls, or none that can be checked."""

from collections.abc import Iterable, Iterator

from engine.audit.context import AuditContext
from engine.audit.finding import Finding, finding
from engine.audit.words import listing
from engine.build.document import Scores
from engine.rules.words import ABILITIES, ABILITY_NAMES


def check_scores(ctx: AuditContext) -> Iterable[Finding]:
    """Scores against the method the build names for them."""
    scores = ctx.build.scores
    if scores is None:
        return
    match scores.method:
        case "standard-array":
            yield from _array(ctx, scores)
        case "point-buy":
            yield from _points(ctx, scores)
        case "rolled":
            yield from _rolled(ctx, scores)
        case "manual":
            yield finding(
                "scores-manual",
                None,
                "scores",
                "The scores name no method, so nobody can check them; name standard array, point buy or a witnessed"
                " roll, or ask the GM to accept them.",
                ctx.scores_source,
            )
        case "final":
            yield finding(
                "scores-final",
                None,
                "scores",
                "The scores are given with every increase in them, so whether they are legal is not checked; give them"
                " before increases and with their method to have that done.",
                ctx.scores_source,
            )


def _array(ctx: AuditContext, scores: Scores) -> Iterator[Finding]:
    array = sorted(ctx.catalog.release.scores.standard_array, reverse=True)
    mine = sorted(scores.values.values(), reverse=True)
    if mine != array:
        yield finding(
            "array-mismatch",
            None,
            "scores",
            f"The scores are {listing(mine)}, but the standard array is {listing(array)}, each used once; assign"
            " those six.",
            ctx.scores_source,
        )


def point_cost(ctx_costs: dict[int, int], scores: Scores) -> int | None:
    """Return what the scores cost in point buy; None if one of them has no price."""
    costs = [ctx_costs.get(value) for value in scores.values.values()]
    known = [cost for cost in costs if cost is not None]
    return sum(known) if len(known) == len(costs) else None


def _points(ctx: AuditContext, scores: Scores) -> Iterator[Finding]:
    release = ctx.catalog.release.scores
    lowest, highest = min(release.point_costs), max(release.point_costs)
    for ability in ABILITIES:
        value = scores.values[ability]
        if value not in release.point_costs:
            yield finding(
                "score-out-of-range",
                None,
                ABILITY_NAMES[ability],
                f"{ABILITY_NAMES[ability]} {value} cannot be bought; point buy sells scores from {lowest} to {highest},"
                " before any increase.",
                ctx.scores_source,
            )
    cost = point_cost(release.point_costs, scores)
    if cost is None:
        return
    # A table that plays with a budget of its own is the measure of its builds, beside its own finding.
    own = ctx.table.points if ctx.table is not None else None
    points = release.points if own is None else own
    if cost > max(points, release.points):
        points = release.points
        yield finding(
            "points-overspent",
            None,
            "scores",
            f"The scores cost {cost} points and point buy gives {points}; lower them by {cost - points}"
            f" {'point' if cost - points == 1 else 'points'}.",
            ctx.scores_source,
        )
    elif cost < points:
        left = points - cost
        yield finding(
            "points-left",
            None,
            "scores",
            f"The scores cost {cost} of {points} points, so {left} {'is' if left == 1 else 'are'} left to spend.",
            ctx.scores_source,
        )


def _rolled(ctx: AuditContext, scores: Scores) -> Iterator[Finding]:
    low, high = 3, 18  # four six-sided dice without the lowest, and any way of rolling three
    for ability in ABILITIES:
        value = scores.values[ability]
        if not low <= value <= high:
            yield finding(
                "score-out-of-range",
                None,
                ABILITY_NAMES[ability],
                f"{ABILITY_NAMES[ability]} {value} cannot come up with {ctx.catalog.release.scores.roll}, which gives"
                f" {low} to {high}; give the number that was rolled, before any increase.",
                ctx.scores_source,
            )
    if scores.roll is None:
        yield finding(
            "roll-not-witnessed",
            None,
            "scores",
            "The scores are called rolled but cite no roll; roll them with `/roll scores` and write `rolled #ID`, or"
            " ask the GM to accept them.",
            ctx.scores_source,
        )
        return
    if ctx.rolls is None:
        return
    rolled = ctx.rolls.get(scores.roll)
    if rolled is None:
        yield finding(
            "roll-not-witnessed",
            None,
            "scores",
            f"The scores cite roll #{scores.roll}, which is no score roll of this server; cite the right number, or"
            " roll anew.",
            ctx.scores_source,
        )
    elif sorted(rolled) != sorted(scores.values.values()):
        yield finding(
            "roll-differs",
            None,
            "scores",
            f"The scores are {listing(sorted(scores.values.values(), reverse=True))}, but roll #{scores.roll} gave"
            f" {listing(sorted(rolled, reverse=True))}; assign those six.",
            ctx.scores_source,
        )
