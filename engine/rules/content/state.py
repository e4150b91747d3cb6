"""States that can be switched on, and conditions."""

from engine.rules.base import Id
from engine.rules.content.entry import Feature


class State(Feature):
    """Grants that hold while the state is switched on (rage, mage armor, a level of exhaustion).

    needs: feature or spell the build must have for the state to make sense; None for states anyone may be in.
    """

    needs: Id | None = None


class Condition(State):
    """A condition of the rules release; it can be switched on like any state."""
