"""Damage after what the target is: never below 0, then resistance, then vulnerability, or none at all."""

from __future__ import annotations

from dataclasses import dataclass

from engine.odds.distribution import Distribution


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """How a target takes damage; all the damage of one hit counts as one type.

    Source: SRD 5.1, Combat, Damage Resistance and Vulnerability: resistance halves (rounded down),
    vulnerability doubles after that, and immunity leaves nothing.
    """

    resistance: bool = False
    vulnerability: bool = False
    immunity: bool = False

    def of(self, damage: int) -> int:
        """Return the hit points lost to `damage`, which counts as 0 if it is below that."""
        if self.immunity or damage < 0:
            return 0
        halved = damage // 2 if self.resistance else damage
        return halved * 2 if self.vulnerability else halved

    def spread(self, damage: Distribution) -> Distribution:
        """Return the distribution of the hit points lost."""
        if damage.low >= 0 and not (self.resistance or self.vulnerability or self.immunity):
            return damage
        return damage.map(self.of)

    def in_words(self) -> str:
        """Return `, resistance halves it` and the like, or nothing."""
        if self.immunity:
            return ", immunity leaves nothing"
        told = [", resistance halves it"] if self.resistance else []
        told += [", vulnerability doubles it"] if self.vulnerability else []
        return "".join(told)
