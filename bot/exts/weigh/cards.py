"""Cards of standing, matches and curves. Pure."""

from collections.abc import Sequence
from typing import Final

from bot.ui.card import Card, Picture, block
from bot.ui.escape import plain
from engine.odds.words import percent
from engine.publish.plots import Plot
from engine.publish.standing import Against, Among, Standing, called, told
from engine.publish.standing.standing import RULE
from engine.publish.words import ability
from engine.services.views import BuildView

PICTURE_FILE: Final = "curve.png"


def standing_card(view: BuildView, found: Standing) -> Card:
    """Return where a build stands among the reference builds."""
    title = f"Standing of {plain(view.name)} · #{view.number} · revision {view.revision.number}"
    if not found.ranks:
        return Card(title, f"{plain('; '.join(found.partial))}.")
    runs = ", ".join(f"{first} to {last}" if first < last else str(first) for first, last in found.weak_levels)
    last = found.ranks[-1]
    ranks = " · ".join(f"{called(n)} {told(n, r.value)} (percentile {r.percentile:.0f})" for n, r in last.items())
    return Card(
        title,
        f"Strongest: {plain(found.strengths[0])}",
        (
            block("**Strengths**", *map(plain, found.strengths)),
            block("**Weaknesses**", *map(plain, found.weaknesses)),
            block(f"**Lags at levels** {runs}" if runs else "**Lags** at no level"),
            block("**Gaps**", *map(plain, found.gaps)) if found.gaps else block("**Gaps** none found"),
            block(f"**At level {len(found.ranks)}** {plain(ranks)}"),
            block(
                *(f"{plain(sentence)}." for sentence in found.partial), plain(RULE), plain(found.counts[-1]), small=True
            ),
        ),
    )


def against_card(view: BuildView, found: Against) -> Card:
    """Return a build's chances against creatures."""
    saves = " · ".join(
        f"{ability(each)} {percent(chance)}" + (f" (first {percent(found.sticks[each])})" if found.legendary else "")
        for each, chance in found.fails.items()
    )
    hit_by = f"They hit its armor class {found.ac} {percent(found.hit_by)}." if found.hit_by is not None else ""
    return Card(
        f"{plain(view.name)} · #{view.number} · level {found.level} against {found.count} "
        f"creature{'' if found.count == 1 else 's'}",
        f"It hits {percent(found.hits)} of the time with {plain(found.attack)}. {hit_by}".strip(),
        (
            block(f"Creatures: {plain(found.words)}", small=True),
            block(f"**They fail** save DC {found.dc}: {saves}" if found.dc is not None else "It asks for no save."),
            block(*(f"{plain(effect)} takes out {percent(share)} of them." for effect, share in found.endings.items())),
            block(f"Partial: {plain(found.partial)}." if found.partial else "", keep=True),
            block("**Best matches**", *_matches(found.best)),
            block("**Worst matches**", *_matches(found.worst)),
            block(
                f"{found.resisting} with magic resistance, counted as advantage; {found.legendary} with legendary "
                f"resistance, which turns the first failures; {found.harmless} attack nobody.",
                small=True,
            ),
        ),
    )


def _matches(matches: Sequence[Among]) -> list[str]:
    lines = []
    for match in matches:
        hit_by = f"hit by it {percent(match.hit_by)}" if match.hit_by is not None else "it attacks nobody"
        lines.append(
            f"{plain(match.name)} (challenge {match.challenge}): hits it {percent(match.hits)}, {hit_by}, "
            f"fails at most {percent(match.fails)}"
        )
    return lines


def curve_card(plot: Plot) -> Card:
    """Return the card of a picture of numbers over the levels."""
    head, _, rest = plot.alt.partition(". ")
    return Card(
        plain(head), plain(rest), (block(plain(plot.source), small=True),), pictures=(Picture(PICTURE_FILE, plot.alt),)
    )
