"""The card of a roster: how every build stands, what is due, what nobody covers, who covers what. Pure."""

from collections.abc import Iterable, Mapping
from typing import Final

from bot.exts.builds.cards import class_words
from bot.exts.table.cards import change_words
from bot.exts.table.words import short_rules
from bot.ui.card import Block, Card, block
from bot.ui.escape import plain
from bot.ui.numbers import signed
from bot.ui.who import who
from engine.review.approval import Stand
from engine.review.party import Party
from engine.rules.catalog import Catalog
from engine.rules.words import ABILITY_NAMES
from engine.services.table_views import RosterView, SubmissionView

HEADS: Final = {
    Stand.APPROVED: "approved",
    Stand.CHANGED: "changed",
    Stand.WAITING: "waiting",
    Stand.RETURNED: "returned",
}


def roster_card(view: RosterView) -> Card:
    """Return the roster; its buttons are added by the command area."""
    table = view.table
    players = {*table.players, *(entry.shown.view.author for entry in view.entries)} - {*table.gms}
    count = f"{len(players)} {'player' if len(players) == 1 else 'players'}"
    title = f"{plain(table.name)} · {count} · level {table.level} · rules: {short_rules(table.rules)}"
    groups = {stand: [e for e in view.entries if e.stand is stand] for stand in HEADS}
    counts = [f"**{HEADS[stand]} {len(found)}**" for stand, found in groups.items() if found]
    first = " · ".join(counts) or "No build is submitted yet; players do that with `/table submit`."
    blocks: list[Block] = [
        block(f"**{HEADS[stand]} {len(found)}**", *(_line(entry) for entry in found))
        for stand, found in groups.items()
        if found
    ]
    if view.broken:
        names = ", ".join(f"{plain(name)} (#{number})" for number, name in view.broken)
        blocks.append(block(f"**cannot be read** {names}: its rules release is not loaded here, or it has no level"))
    if view.without:
        blocks.append(block(f"**no build yet** {', '.join(who(member) for member in view.without)}"))
    if view.party is not None:
        catalog = view.entries[0].shown.view.catalog
        blocks += [block(nobody_line(view.party, catalog), keep=True), block(*_covered(view.party, catalog))]
    return Card(title, first, tuple(b for b in blocks if b.lines))


def _line(entry: SubmissionView) -> str:
    build = entry.shown.view
    parts = [
        f"**{plain(build.name)}** · #{build.number} · {class_words(build.build, build.catalog, entry.last)}",
        f"by {who(build.author)}",
    ]
    match entry.stand:
        case Stand.CHANGED:
            parts.append(f"since approval: {change_words(entry)}")
        case Stand.WAITING:
            parts.append(f"submitted <t:{int(entry.submitted.timestamp())}:R>")
        case Stand.RETURNED:
            parts.append(f"“{plain(entry.remarks)}”")
    if entry.waiting:
        parts.append(f"{len(entry.waiting)} {'finding' if len(entry.waiting) == 1 else 'findings'} to rule on")
    stale = sum(waiver.stale for waiver in entry.waivers)
    if stale:
        parts.append(f"{stale} {'waiver' if stale == 1 else 'waivers'} without a finding")
    if entry.corrected:
        parts.append("rules data corrected since")
    return " · ".join([*parts, *_due(entry)])


def _due(entry: SubmissionView) -> list[str]:
    parts = []
    if entry.missing:
        first = entry.last + 1
        span = f"level {first}" if first == entry.level else f"levels {first} to {entry.level}"
        parts.append(f"due: {span}")
    if entry.due:
        parts.append(f"{len(entry.due)} {'choice' if len(entry.due) == 1 else 'choices'} open")
    return parts


def nobody_line(party: Party, catalog: Catalog) -> str:
    """Return what nobody covers, in one line."""
    parts = [
        *party.lacking_senses,
        *(f"a {ABILITY_NAMES[a]} save above {signed(party.best_save[a])}" for a in party.lacking_saves),
        *party.lacking_roles,
        *(plain(catalog.name_of("skill", id_)) for id_ in party.lacking_skills),
        *(plain(catalog.name_of("language", id_)) for id_ in party.lacking_languages),
    ]
    return f"**Nobody has:** {', '.join(parts) if parts else 'nothing is missing'}"


def _covered(party: Party, catalog: Catalog) -> Iterable[str]:
    yield f"**Saves** {_who({a.capitalize(): names for a, names in party.saves.items()})}"
    yield f"**Skills** {_who({catalog.name_of('skill', i): names for i, names in party.skills.items()})}"
    yield f"**Languages** {_who({catalog.name_of('language', i): n for i, n in party.languages.items()})}"
    senses = [
        f"{plain(sense)}: {', '.join(f'{plain(name)} {feet} feet' for name, feet in held)}"
        for sense, held in party.senses.items()
    ]
    yield f"**Senses** {' · '.join(senses)}" if senses else ""
    yield f"**Roles** {_who(party.roles)}"


def _who(covered: Mapping[str, tuple[str, ...]]) -> str:
    return " · ".join(
        f"{plain(word)}: {', '.join(plain(name) for name in names)}" for word, names in covered.items() if names
    )
