"""What a member can cause is a value, never an exception."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Refused:
    """A request that cannot be carried out, in words for the member who made it.

    code: stable, kebab-case, for tests and logs. sentence: says what is wrong, what was expected and what
    would mend it; shown to that member only.
    """

    code: str
    sentence: str
