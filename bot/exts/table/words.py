"""A table's rules in words. Pure; everything that a GM wrote is escaped."""

from collections.abc import Iterable
from typing import Final

from bot.ui.escape import plain
from engine.audit import TableRules

_HIT_POINTS: Final = {"fixed": "the fixed number", "rolled": "rolled and witnessed", "maximum": "the maximum"}


def short_rules(rules: TableRules) -> str:
    """Return the rules in a few words: `SRD 5.1, point buy, feats allowed`."""
    parts = [_listed(rules.rules or ("srd-5.1",)).upper().replace("SRD-", "SRD ")]
    if rules.scores is not None:
        parts.append(_listed(m.replace("-", " ") for m in rules.scores))
    if rules.feats is not None:
        parts.append("feats allowed" if rules.feats else "no feats")
    if rules.multiclassing is False:
        parts.append("no multiclassing")
    return ", ".join(parts)


def rules_lines(rules: TableRules) -> list[str]:
    """Return every rule in force, one a line; a single line if nothing is restricted."""
    lines = [f"**{key}** {words}" for key, words in _rules(rules) if words]
    return lines or ["Nothing is restricted beyond the rules release."]


def _rules(rules: TableRules) -> Iterable[tuple[str, str]]:
    yield "Rules", _listed(rules.rules or ())
    if rules.folios is not None:
        yield "Folios besides", _listed(rules.folios) or "none"
    if rules.levels is not None:
        yield "Levels", f"{rules.levels.start} to {rules.levels.highest}"
    yield "Scores", _listed(m.replace("-", " ") for m in rules.scores or ())
    if rules.points is not None:
        yield "Points to buy scores", str(rules.points)
    yield "Hit points", _listed(_HIT_POINTS[way] for way in rules.hit_points or ())
    if rules.multiclassing is not None:
        yield "Multiclassing", "yes" if rules.multiclassing else "no"
    if rules.feats is not None:
        yield "Feats", "yes" if rules.feats else "no"
    yield "Extra feats at levels", _listed(rules.extra_feats)
    yield "Barred", _listed(rules.bar)
    yield "Allowed all the same", _listed(rules.allow)
    if rules.magic_items is not None:
        most, rarity = rules.magic_items.most, rules.magic_items.rarity
        yield (
            "Magic items",
            ", ".join(
                [
                    "no limit" if most is None else "none" if most == 0 else f"{most} at once",
                    *([f"up to {rarity.replace('-', ' ')}"] if rarity is not None else []),
                ]
            ),
        )
    if rules.gold is not None:
        yield "Gold to start with", f"{rules.gold:,} gp"
    if rules.encumbrance != "standard":
        yield "Encumbrance", "the release's variant"


def _listed(words: Iterable[object]) -> str:
    return ", ".join(plain(str(word)) for word in words)
