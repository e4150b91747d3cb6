"""The checks, one module per subject. Every check takes a context and yields findings, and knows no other check."""

from collections.abc import Callable, Iterable
from typing import Final

from engine.audit.checks import (
    choices,
    gear,
    increases,
    levels,
    origin,
    prepared,
    rulings,
    scores,
    spells,
    swaps,
    table_rules,
)
from engine.audit.context import AuditContext
from engine.audit.finding import Finding

Check = Callable[[AuditContext], Iterable[Finding]]

# Header and lines come first; those that walk over levels, spells and gear last.
ALL_CHECKS: Final[tuple[Check, ...]] = (
    origin.check_there,
    scores.check_scores,
    levels.check_multiclass,
    levels.check_subclass,
    levels.check_hit_points,
    origin.check_content,
    increases.check_increases,
    increases.check_limits,
    choices.check_counts,
    choices.check_spare,
    choices.check_picks,
    choices.check_repeats,
    choices.check_duplicates,
    rulings.check_gifts,
    rulings.check_languages,
    rulings.check_rulings,
    swaps.check_swaps,
    spells.check_learned,
    spells.check_known_twice,
    prepared.check_prepared,
    gear.check_lost,
    gear.check_wearing,
    gear.check_magic,
    gear.check_weight,
    gear.check_starting,
    table_rules.check_table,
)

__all__ = ["ALL_CHECKS", "Check"]
