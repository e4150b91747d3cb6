"""What a body can do beyond the sheet: lifting, jumping, holding its breath, resting (SRD 5.1, Adventuring).

These numbers follow from scores and levels, and nobody compares builds by them; they are worked out when asked for.
"""

from fractions import Fraction

from engine.rules.grants.body import Jump
from engine.sheet.abilities import abilities
from engine.sheet.carrying import carrying
from engine.sheet.gathered import Gathered, Granted
from engine.sheet.number import Number, Reason, stated, tidy, total
from engine.sheet.plan import At, Plan

_HALF_MINUTE = Fraction(1, 2)


def exertion(gathered: Gathered, level: int) -> dict[str, Number]:
    """Return the numbers by name.

    `carry.lift` (push, drag or lift, pounds); `jump.long` and `jump.high` with a running start, and each with
    `.standing` without one (feet; halves are not rounded, since the rule prints no rounding); `breath.held` (minutes)
    and `breath.left` (rounds once it has run out); `rest.hit_dice` (dice back after a long rest); and
    `experience.needed` for the next level, not at the last one (points).
    """
    plan = Plan(gathered)
    at = At(plan, level, abilities(plan, level)[0])
    capacity = carrying(at)["carry.capacity"].value
    assert not isinstance(capacity, str)
    lift = stated(capacity * 2, f"twice the carrying capacity of {capacity:g}", at.rule("carrying"), "pounds")
    strength = Reason(f"Strength {at.scores['str']}", at.scores["str"], at.rule("jumping"))
    high = [Reason("high jump", 3, at.rule("jumping")), at.ability_reason("str")]
    return {
        "carry.lift": lift,
        **_jumps(at, "jump.long", [strength], ("long", "both")),
        **_jumps(at, "jump.high", high, ("both",)),
        **_breath(at),
        **_by_level(at),
    }


def _jumps(at: At, name: str, base: list[Reason], kinds: tuple[str, ...]) -> dict[str, Number]:
    """Return a jump with and without a running start: without one half the rule, and no feet that need the run."""
    grants = [(g, g.grant) for g in at.holding("jump") if isinstance(g.grant, Jump) and g.grant.jump in kinds]
    short = -sum(int(reason.amount) for reason in base)
    if short > 0:
        base = [*base, Reason("no jump at all is the least", short, at.rule("jumping"))]
    added = [Reason(g.label, at.value(g, grant.feet), g.source) for g, grant in grants if grant.feet is not None]
    half = Fraction(-sum(int(reason.amount) for reason in base), 2)
    standing = [*base, Reason("no running start, half", tidy(half), at.rule("jumping"))]
    times = [(g, grant.times) for g, grant in grants if grant.times is not None]
    running = [*base, *(reason for reason in added if reason.amount)]
    return {name: _times(running, times), f"{name}.standing": _times(standing, times)}


def _times(reasons: list[Reason], times: list[tuple[Granted, int]]) -> Number:
    for granted, factor in times:
        now = total(reasons).value
        assert not isinstance(now, str)
        reasons = [*reasons, Reason(f"{granted.label}, × {factor}", now * (factor - 1), granted.source)]
    return total(reasons, "feet")


def _breath(at: At) -> dict[str, Number]:
    rule, modifier = at.rule("suffocating"), at.modifiers["con"]
    held = f"1 + modifier of Constitution {at.scores['con']}, half a minute at least"
    left = f"modifier of Constitution {at.scores['con']}, one at least"
    minutes = max(Fraction(1 + modifier), _HALF_MINUTE)
    return {
        "breath.held": stated(tidy(minutes), held, rule, "minutes"),
        "breath.left": stated(max(1, modifier), left, rule, "rounds"),
    }


def _by_level(at: At) -> dict[str, Number]:
    dice = max(1, at.level // 2)
    found = {"rest.hit_dice": stated(dice, f"half of {at.level} hit dice, one at least", at.rule("resting"), "dice")}
    needed = at.plan.release.experience
    if at.level < len(needed):
        # The level that counts is the character's, whatever class it is gained in.
        label = f"character level {at.level + 1}"
        found["experience.needed"] = stated(needed[at.level], label, at.rule("level-advancement"), "points")
    return found
