"""Plain phrases for chances and modifiers, as cards and command lines show them."""

from __future__ import annotations

from fractions import Fraction


def percent(chance: float | Fraction) -> str:
    """Return a chance as a whole percentage: `50 %`.

    What can happen never reads as 0 % and what can fail never as 100 %: those come back as `under 1 %` and
    `over 99 %`.
    """
    if chance <= 0:
        return "0 %"
    if chance >= 1:
        return "100 %"
    # Halves go up, as people round; float formatting would send 12.5 to 12.
    whole = int(chance * 100 + Fraction(1, 2)) if isinstance(chance, Fraction) else int(chance * 100 + 0.5 + 1e-9)
    if whole < 1:
        return "under 1 %"
    if whole > 99:
        return "over 99 %"
    return f"{whole} %"


def people_say(chance: float | Fraction) -> str:
    """Return a chance as odds that people say: `1 in 2`, `about 7 in 8`, `all but about 1 in 40`, `never`,
    `always`, and `almost` either of them below one in a billion.

    `about` is left out only where the words are the exact chance; a float counts as exact within 1e-12.
    """
    if chance <= 0:
        return "never"
    if chance >= 1:
        return "always"
    small = min(chance, 1 - chance)
    if small < 1e-9:
        return "almost never" if small == chance else "almost always"
    if small < 0.1 - 1e-9:
        words = f"1 in {_rounded(1 / small)}"
        said: float | Fraction = Fraction(1, _rounded(1 / small))
        prefix = "" if small == chance else "all but "
        return f"{prefix}{_about(said, small)}{words}"
    near = Fraction(chance).limit_denominator(10)
    return f"{_about(near, chance)}{near.numerator} in {near.denominator}"


def chance(value: float | Fraction) -> str:
    """Return both forms of a chance: `88 % (about 7 in 8)`."""
    return f"{percent(value)} ({people_say(value)})"


def signed(number: int) -> str:
    """Return a modifier with its sign: `+7`, `-1`, `+0`."""
    return f"{number:+d}"


def added(base: str, number: int) -> str:
    """Return `1d20 + 7`, `1d20 - 1` or just `1d20`."""
    if number == 0:
        return base
    return f"{base} {'+' if number > 0 else '-'} {abs(number)}"


def times(number: int, one: str, many: str | None = None) -> str:
    """Return a count with its word: `1 target`, `3 targets`."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def plain(number: float) -> str:
    """Return a mean with at most one decimal: `13.8`, `7`."""
    text = f"{number:.1f}"
    return text.removesuffix(".0")


def _rounded(number: float | Fraction) -> int:
    return int(number + (Fraction(1, 2) if isinstance(number, Fraction) else 0.5))


def _about(said: float | Fraction, meant: float | Fraction) -> str:
    exact = said == meant if isinstance(meant, Fraction) else abs(float(said) - meant) < 1e-12
    return "" if exact else "about "
