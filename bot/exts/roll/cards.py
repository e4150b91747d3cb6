"""Cards of rolls: what came up first, then the faces, who rolled and when, how a build cites it."""

from collections.abc import Iterator

from bot.ui.card import Card, block
from bot.ui.escape import plain
from bot.ui.who import who
from engine.odds.rolling import Die, Rolled
from engine.services.rolls import RollView
from engine.services.views import Page


def roll_card(view: RollView) -> Card:
    """Return the card of a roll."""
    return Card(_title(view), _first(view), (block(*_faces(view)), block(*_cited(view)), block(_who(view), small=True)))


def list_card(page: Page[RollView]) -> Card:
    """Return a page of rolls, newest first."""
    lines = [f"**#{view.number}** {_title(view)} · {_who(view)}" for view in page.items]
    more = ", more on the next" if page.more else ""
    first = f"Page {page.number}{more}" if lines else "Nobody has rolled here yet; /roll dice, scores and hp do."
    return Card("Rolls of this server", first, (block(*lines),))


def _title(view: RollView) -> str:
    match view.kind:
        case "scores":
            return ", ".join(str(value) for value in sorted(view.values, reverse=True))
        case "hp":
            return f"{view.values[0]} hit points"
        case "dice":
            return f"{view.values[0]} on {plain(view.dice)}"


def _first(view: RollView) -> str:
    what = {"scores": "score roll", "hp": "hit-point roll", "dice": "roll"}[view.kind]
    parts = [f"{what} #{view.number}"]
    if view.level is not None:
        name = f"{plain(view.build_name)} (#{view.build})" if view.build_name else f"build #{view.build}"
        parts.append(f"{plain(view.purpose)} at level {view.level} of {name}")
    elif view.purpose:
        parts.append(f"for “{plain(view.purpose)}”")
    return " · ".join(parts)


def _faces(view: RollView) -> Iterator[str]:
    for result in view.results:
        yield f"{result.total}: {_terms(result)}"


def _terms(result: Rolled) -> str:
    return "; ".join(f"{plain(term.dice)} gave {', '.join(_die(die) for die in term.faces)}" for term in result.terms)


def _die(die: Die) -> str:
    before = f" (rolled again after {die.before})" if die.before is not None else ""
    return f"{die.face}{before}" if die.counts else f"{die.face} dropped{before}"


def _cited(view: RollView) -> Iterator[str]:
    if view.earlier:
        numbers = ", ".join(f"#{number}" for number in view.earlier)
        same = "this level" if view.kind == "hp" else "the same purpose"
        yield f"This is roll {len(view.earlier) + 1} for {same}; before it came {numbers}."
    if view.serves is not None:
        yield f"It serves build #{view.serves}."
    elif view.kind == "scores":
        yield f"A build cites it with (rolled #{view.number}) after its scores; one roll serves one build."
    elif view.kind == "hp":
        yield f"Level {view.level} of the build cites it with: hp {view.values[0]} #{view.number}"


def _who(view: RollView) -> str:
    return f"rolled by {who(view.member)} <t:{int(view.at.timestamp())}:f>"
