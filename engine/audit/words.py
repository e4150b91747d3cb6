"""Small pieces of sentences that findings are made of."""

from collections.abc import Iterable

_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")


def listing(parts: Iterable[object], last: str = "and") -> str:
    """Return `a, b and c`."""
    words = [str(part) for part in parts]
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"


def counted(count: int, noun: str, plural: str | None = None) -> str:
    """Return `one skill`, `two skills`, `14 skills`."""
    word = _NUMBERS[count] if 0 <= count < len(_NUMBERS) else str(count)
    return f"{word} {noun if count == 1 else plural or plural_of(noun)}"


def plural_of(noun: str) -> str:
    """Return the regular plural of an English noun: `tools or languages`, `kinds of land`."""
    if " or " in noun:
        return " or ".join(plural_of(part) for part in noun.split(" or "))
    for link in (" of ", " for "):
        if link in noun:
            first, rest = noun.split(link, 1)
            return f"{plural_of(first)}{link}{rest}"
    if noun.endswith(("s", "x", "ch", "sh")):
        return f"{noun}es" if not noun.endswith("ies") else noun
    if noun.endswith("y") and noun[-2:-1] not in "aeiou":
        return f"{noun[:-1]}ies"
    return f"{noun}s"


def ordinal(number: int) -> str:
    """Return `1st`, `2nd`, `3rd`, `4th`."""
    if 10 <= number % 100 <= 20:
        return f"{number}th"
    return f"{number}{ {1: 'st', 2: 'nd', 3: 'rd'}.get(number % 10, 'th') }"


def some(names: Iterable[str], limit: int = 6) -> str:
    """Return the first names and how many more there are."""
    known = list(names)
    if len(known) <= limit:
        return ", ".join(known)
    return f"{', '.join(known[:limit])} and {len(known) - limit} more"
