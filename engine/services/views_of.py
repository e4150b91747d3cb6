"""Views made from stored rows, inside a unit of work."""

from engine.build.document import Build
from engine.problem import Refused
from engine.rules.catalog import Catalog
from engine.services.documents import read_document, revision_view
from engine.services.shelves import catalog_here
from engine.services.views import BuildView, CardPlace, Notice, RemarkView
from engine.store.models import BuildRow, Card, Remark, Revision
from engine.store.uow import UnitOfWork


def card_place(card: Card) -> CardPlace:
    """Return where a card stands."""
    return CardPlace(card.subject, card.channel, card.message, card.thread, card.stale)


def remark_view(
    remark: Remark, title: str, cards: tuple[CardPlace, ...] = (), notices: tuple[Notice, ...] = ()
) -> RemarkView:
    """Return a remark. title: of the build or proposal it stands at."""
    return RemarkView(
        id=remark.id,
        subject=remark.subject,
        kind="proposal" if remark.kind == "proposal" else "build",
        title=title,
        level=remark.level,
        number=remark.number,
        author=remark.author,
        text=remark.text,
        at=remark.at,
        settled=remark.settled,
        cards=cards,
        answers=remark.answers,
        edited=remark.edited,
        removed=remark.removed,
        settled_by=remark.settled_by,
        notices=notices,
    )


async def document_at(uow: UnitOfWork, row: BuildRow, number: int | None) -> tuple[Revision, Build, Catalog] | Refused:
    """Return a revision of a build (None: the newest), its document and its catalogue.

    Refused: "no-such-revision", "no-such-rules".
    """
    revision = await uow.builds.revision(row.server, row.number, row.revision if number is None else number)
    if revision is None:
        return Refused(
            "no-such-revision", f"{row.name} has revisions 1 to {row.revision}; {number} is not one of them."
        )
    build = read_document(revision)
    catalog = await catalog_here(uow, row.server, build)
    if isinstance(catalog, Refused):
        return catalog
    return revision, build, catalog


async def build_view(
    uow: UnitOfWork,
    row: BuildRow,
    number: int | None = None,
    *,
    followed: tuple[int, ...] = (),
    outdated: tuple[int, ...] = (),
    notices: tuple[Notice, ...] = (),
) -> BuildView | Refused:
    """Return the view of a build at a revision (None: the newest). Refused: as `document_at`."""
    found = await document_at(uow, row, number)
    if isinstance(found, Refused):
        return found
    revision, build, catalog = found
    return BuildView(
        number=row.number,
        name=row.name,
        author=row.author,
        shared=row.shared,
        revision=revision_view(revision),
        latest=row.revision,
        build=build,
        catalog=catalog,
        open_proposals=await uow.proposals.count_open(row.server, row.number),
        remarks=(await uow.remarks.counts(row.server, [row.number]))[row.number],
        cards=tuple(card_place(card) for card in await uow.cards.of(row.server, row.number)),
        followed=followed,
        outdated=outdated,
        coauthors=tuple(sorted(await uow.builds.coauthors(row.server, row.number))),
        origin=None if row.origin is None or row.origin_revision is None else (row.origin, row.origin_revision),
        retired=row.retired,
        notices=notices,
    )
