"""What a hit leaves of a creature: temporary hit points first, and whether what remains after 0 kills outright."""

from __future__ import annotations

from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True, kw_only=True)
class Wounds:
    """A creature's hit points: what it has now (0 or more), its maximum (1 or more), and temporary ones on top.

    outright: it died of one hit, without death saves. Source: SRD 5.1, Combat, Damage and Healing, Instant Death;
    Temporary Hit Points.
    """

    hit_points: int
    maximum: int
    temporary: int = 0
    outright: bool = False

    def after(self, damage: int) -> Wounds:
        """Return what is left after a hit: the temporary points go first, and what they do not take the others lose.

        If damage remains once there is nothing left, and it is no less than the maximum, the creature is dead.
        """
        through = max(0, damage - self.temporary)
        remains = max(0, through - self.hit_points)
        return replace(
            self,
            temporary=max(0, self.temporary - max(0, damage)),
            hit_points=max(0, self.hit_points - through),
            outright=self.outright or (through > 0 and remains >= self.maximum),
        )

    def offered(self, temporary: int) -> Wounds:
        """Return the same with temporary hit points offered: they do not add up, so the higher number is kept."""
        return replace(self, temporary=max(self.temporary, temporary))
