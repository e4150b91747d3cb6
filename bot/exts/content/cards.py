"""Cards of folios: one, all of a server, what a check found, which builds would change. Pure.

Whatever a folio says of itself is shown as the text it is.
"""

from collections.abc import Iterable, Sequence
from typing import Final

from bot.exts.builds.cards import difference_blocks
from bot.ui.card import Block, Card, block
from bot.ui.escape import label, plain
from bot.ui.who import who
from engine.services.folio_views import (
    Concerned,
    ConcernedView,
    FolioAdded,
    FolioBrief,
    FolioChecked,
    FolioErrors,
    FolioVersion,
    FolioView,
    LibraryView,
)

NOTICE: Final = (
    "Upload only what you may share, and facts in your own words rather than a book's text. Whoever is on this server"
    " can read a folio and take it along."
)
SHOWN_ERRORS: Final = 8
SHOWN_VERSIONS: Final = 10
SHOWN_BUILDS: Final = 8
# Lines of one build's difference on a card with several.
SHOWN_LINES: Final = 7
_PLURALS: Final = {"class": "classes", "subclass": "subclasses", "species": "species"}


def counted(kind: str, n: int) -> str:
    """Return how many entries of a kind, in words: `2 choice lists`."""
    word = kind.replace("-", " ")
    return f"{n} {word if n == 1 else _PLURALS.get(kind, f'{word}s')}"


def _counts(counts: Iterable[tuple[str, int]]) -> str:
    return ", ".join(counted(kind, n) for kind, n in counts) or "no entries"


def _whose(author: str | None, licence: str) -> str:
    by = f"by {plain(author)}" if author else "its author is not named"
    return f"{by} · licence: {plain(licence)}"


def _where(brief: FolioBrief) -> str:
    """Return where a folio is on, in words."""
    if brief.removed is not None:
        return "taken away"
    if brief.everywhere:
        return "on for the whole server"
    tables = ", ".join(plain(name) for _, name in brief.tables)
    return f"on for {tables} only" if tables else "off; `/content on` switches it on"


def folio_card(view: FolioView, first: str = "", notes: Sequence[str] = ()) -> Card:
    """Return a folio: title, author, licence, what it holds, its versions with the builds that use them.

    first: what just happened to it, before where it is on.
    """
    brief = view.brief
    where = _where(brief)
    stands = f"{where[:1].upper()}{where[1:]}."
    if first:
        stands = first if brief.removed is not None else f"{first} {stands}"
    return Card(
        f"{plain(brief.title)} · version {plain(brief.version)}",
        stands,
        (
            block(_whose(brief.author, brief.licence), keep=True),
            block(f"**Holds** {_counts(view.counts)}", f"**Named in an outline** `Folios: {_unticked(brief.title)}`"),
            block(*(f"**Note** {plain(note)}" for note in notes)),
            _versions(view.versions),
            block(plain(label(view.attribution, 300)), small=True),
            block(NOTICE, keep=True, small=True),
        ),
    )


def _unticked(text: str) -> str:
    """Return a text that cannot end the small box it is shown in."""
    return " ".join(text.replace("`", "'").split())


def _versions(versions: Sequence[FolioVersion]) -> Block:
    lines = []
    for each in versions[:SHOWN_VERSIONS]:
        names = [f"#{number} {plain(name)}" for number, name in each.builds[:SHOWN_BUILDS]]
        more = len(each.builds) - len(names) + each.hidden
        names += [f"{more} {'other' if names else 'private'} {'build' if more == 1 else 'builds'}"] if more else []
        used = f" · used by {', '.join(names)}" if names else ""
        now = ", in use" if each.current else ""
        stamp = int(each.at.timestamp())
        lines.append(f"**Version {plain(each.version)}**{now} · <t:{stamp}:d> by {who(each.added_by)}{used}")
    left = len(versions) - SHOWN_VERSIONS
    return block(*lines, f"and {left} earlier" if left > 0 else "")


def added_card(added: FolioAdded) -> Card:
    """Return a folio that was just added."""
    first = f"Version {plain(added.view.brief.version)} is added and in use."
    if added.concerned:
        builds = "1 build uses" if added.concerned == 1 else f"{added.concerned} builds use"
        first += f" {builds} another version and {'keeps' if added.concerned == 1 else 'keep'} it until moved."
    return folio_card(added.view, first, added.notes)


def checked_card(found: FolioChecked) -> Card:
    """Return what a dry run found in a folio that is in order."""
    return Card(
        f"{plain(found.title)} · version {plain(found.version)} is in order",
        f"It holds {_counts(found.counts)}. Nothing was stored; `/content add` adds it.",
        (
            block(_whose(found.author, found.licence), keep=True),
            block(*(f"**Note** {plain(note)}" for note in found.notes)),
            block(plain(label(found.attribution, 300)), small=True),
            block(NOTICE, keep=True, small=True),
        ),
    )


def errors_card(found: FolioErrors, name: str, filename: str) -> Card:
    """Return everything that is wrong with a folio; filename: of the attachment that has it all, empty for none."""
    count = len(found.lines)
    lines = [plain(line) for line in found.lines[:SHOWN_ERRORS]]
    if count > SHOWN_ERRORS:
        lines.append(f"and {count - SHOWN_ERRORS} more; the file below has them all")
    return Card(
        f"{count} {'thing' if count == 1 else 'things'} to mend in {plain(label(name, 60))}",
        "Nothing was stored. Each line says which file and line it is about.",
        (block(*lines),),
        files=(filename,) if filename else (),
    )


def list_card(found: Sequence[FolioBrief], *, removed: bool) -> Card:
    """Return the folios of a server, or those that were taken away."""
    if not found:
        first = "None was taken away." if removed else "None yet. `/content template` gives one to fill in."
        return Card("Folios of this server", first, (block(NOTICE, keep=True, small=True),))
    lines = [
        f"**{plain(each.title)}** {plain(each.version)} · {_where(each)}\n"
        f"-# {_whose(each.author, each.licence)} · {each.entries} {'entry' if each.entries == 1 else 'entries'}"
        for each in found
    ]
    word = "folio" if len(found) == 1 else "folios"
    first = f"{len(found)} {word} taken away; `/content back` brings one back." if removed else f"{len(found)} {word}."
    return Card("Folios of this server", first, (block(*lines),))


def concerned_card(view: ConcernedView) -> Card:
    """Return which builds would change, and how: by moving to the version in use, or by a folio that is gone."""
    brief = view.folio
    title = f"{plain(brief.title)} {plain(brief.version)}"
    count = len(view.builds) + view.more
    if not count:
        return Card(title, "No build is concerned: all that can be seen use this version, or none of the folio.")
    one = count == 1
    builds = "1 build uses" if one else f"{count} builds use"
    if view.removal:
        first = f"{builds} this folio; {'it changes' if one else 'they change'} like this without it."
    elif one:
        first = f"{builds} another version and stays with it until its author moves it."
    else:
        first = f"{builds} another version and stay with it until their authors move them."
    blocks = [_concerned(each) for each in view.builds]
    if view.more:
        blocks.append(block(f"and {view.more} more builds; their authors see them with `/content builds`", keep=True))
    if not view.removal:
        blocks.append(block("Only a build's author and co-authors can move it.", keep=True, small=True))
    return Card(title, first, tuple(blocks))


def _concerned(found: Concerned) -> Block:
    build = found.view
    head = f"**#{build.number} {plain(build.name)}** by {who(build.author)}, with version {plain(found.version or '?')}"
    lines = [line for each in difference_blocks(found.difference, build.catalog) for line in each.lines]
    left = len(lines) - SHOWN_LINES
    return block(head, *lines[:SHOWN_LINES], f"and {left} changes more" if left > 0 else "")


def library_card(view: LibraryView) -> Card:
    """Return who may add folios, and how much is kept."""
    if view.everybody:
        may = "everybody; each changes only the folios they have added"
    elif view.librarians is not None:
        may = f"members with <@&{view.librarians}>, and whoever manages the server"
    else:
        may = "whoever manages the server"
    mb = view.size / 1024 / 1024
    return Card(
        "Who may add folios here",
        f"**May add, switch and take away** {may}",
        (
            block(
                f"**Kept** {view.versions} of {view.most_versions} versions, {mb:.1f} of"
                f" {view.most_size // 1024 // 1024} MB",
                "A table's GM switches folios on and off for that table.",
            ),
            block(NOTICE, keep=True, small=True),
        ),
    )
