"""Builds, their co-authors and their revisions."""

from collections.abc import Collection
from datetime import datetime

from sqlalchemy import ColumnElement, Select, delete, exists, func, or_, select

from engine.store.link import Link
from engine.store.models import BuildClass, BuildRow, CoAuthor, Revision


class Builds:
    """The builds of a server."""

    def __init__(self, link: Link) -> None:
        self._link = link

    async def get(self, server: int, number: int, *, for_update: bool = False) -> BuildRow | None:
        """Return a build, removed ones too. for_update: hold it against other writers."""
        return await self._one(BuildRow.number == number, server, for_update)

    async def by_key(self, server: int, key: str, *, for_update: bool = False) -> BuildRow | None:
        """Return the build that has a folded name; removed ones have none."""
        return await self._one(BuildRow.name_key == key, server, for_update)

    async def _one(self, which: ColumnElement[bool], server: int, for_update: bool) -> BuildRow | None:
        statement = select(BuildRow).where(BuildRow.server == server, which)
        if for_update:
            # What another writer saved while we waited must be seen, not what this session read before.
            statement = statement.with_for_update().execution_options(populate_existing=True)
        return (await self._link.session.scalars(statement)).one_or_none()

    async def add(self, build: BuildRow, revision: Revision, classes: dict[str, int]) -> None:
        """Store a new build with its first revision."""
        self._link.session.add(build)
        await self._link.session.flush()
        await self.add_revision(revision, classes)

    async def add_revision(self, revision: Revision, classes: dict[str, int]) -> None:
        """Store a revision and the classes that the build has by it, in the order they were taken."""
        session = self._link.session
        session.add(revision)
        await session.execute(
            delete(BuildClass).where(BuildClass.server == revision.server, BuildClass.build == revision.build)
        )
        session.add_all(
            BuildClass(server=revision.server, build=revision.build, class_id=class_id, levels=levels, place=place)
            for place, (class_id, levels) in enumerate(classes.items())
        )
        await session.flush()

    async def coauthors(self, server: int, build: int) -> frozenset[int]:
        """Return the co-authors of a build."""
        found = await self._link.session.scalars(
            select(CoAuthor.member).where(CoAuthor.server == server, CoAuthor.build == build)
        )
        return frozenset(found)

    async def first_coauthor(self, server: int, build: int) -> int | None:
        """Return the member who has been a co-author of a build for longest."""
        return await self._link.session.scalar(
            select(CoAuthor.member)
            .where(CoAuthor.server == server, CoAuthor.build == build)
            .order_by(CoAuthor.at, CoAuthor.member)
            .limit(1)
        )

    async def add_coauthor(self, server: int, build: int, member: int, at: datetime) -> None:
        """Make a member a co-author."""
        self._link.session.add(CoAuthor(server=server, build=build, member=member, at=at))
        await self._link.session.flush()

    async def drop_coauthor(self, server: int, build: int, member: int) -> None:
        """Make a member no co-author any more."""
        await self._link.session.execute(
            delete(CoAuthor).where(CoAuthor.server == server, CoAuthor.build == build, CoAuthor.member == member)
        )

    async def revision(self, server: int, build: int, number: int) -> Revision | None:
        """Return one revision of a build."""
        return (
            await self._link.session.scalars(
                select(Revision).where(Revision.server == server, Revision.build == build, Revision.number == number)
            )
        ).one_or_none()

    async def revisions(self, server: int, build: int, *, limit: int, offset: int = 0) -> list[Revision]:
        """Return revisions of a build, newest first."""
        found = await self._link.session.scalars(
            select(Revision)
            .where(Revision.server == server, Revision.build == build)
            .order_by(Revision.number.desc())
            .limit(limit)
            .offset(offset)
        )
        return list(found)

    async def page(
        self,
        server: int,
        member: int,
        *,
        author: int | None,
        retired: bool,
        class_id: str | None,
        level: int | None,
        limit: int,
        offset: int,
    ) -> list[BuildRow]:
        """Return builds that the member may see, newest number first. retired: those set aside instead of the rest."""
        aside = BuildRow.retired.is_not(None) if retired else BuildRow.retired.is_(None)
        statement = visible(server, member).where(aside)
        order = BuildRow.number
        if author is not None:
            statement = statement.where(BuildRow.author == author)
        if level is not None:
            statement = statement.where(BuildRow.top == level)
        if class_id is not None:
            statement = statement.join(
                BuildClass, (BuildClass.server == BuildRow.server) & (BuildClass.build == BuildRow.number)
            ).where(BuildClass.server == server, BuildClass.class_id == class_id)
            # The same number, read in the order of that index: a rare class is found without reading every build.
            order = BuildClass.build
        found = await self._link.session.scalars(statement.order_by(order.desc()).limit(limit).offset(offset))
        return list(found)

    async def names(self, server: int, member: int) -> list[str]:
        """Return the name of every build that the member may see, newest number first."""
        statement = visible(server, member).with_only_columns(BuildRow.name).order_by(BuildRow.number.desc())
        return list(await self._link.session.scalars(statement))

    async def named_like(
        self, server: int, member: int, key: str, *, at_start: bool, own: bool, limit: int
    ) -> dict[int, str]:
        """Return number -> name of builds that the member may see, whose folded name begins with or holds a text."""
        statement = visible(server, member).with_only_columns(BuildRow.number, BuildRow.name)
        if at_start:
            # A range instead of LIKE, so that the index on folded names serves on every database.
            statement = statement.where(BuildRow.name_key >= key, BuildRow.name_key < key + chr(0x10FFFF))
        else:
            statement = statement.where(BuildRow.name_key.contains(key, autoescape=True))
        if own:
            statement = statement.where(or_(BuildRow.author == member, _helps(member)))
        found = await self._link.session.execute(statement.order_by(BuildRow.name_key).limit(limit))
        return {number: name for number, name in found}  # noqa: C416 - rows are not plain tuples to the type checker

    async def classes(self, server: int, builds: Collection[int]) -> dict[int, dict[str, int]]:
        """Return build -> class id -> levels, classes in the order they were taken."""
        held: dict[int, dict[str, int]] = {number: {} for number in builds}
        found = await self._link.session.execute(
            select(BuildClass.build, BuildClass.class_id, BuildClass.levels)
            .where(BuildClass.server == server, BuildClass.build.in_(builds))
            .order_by(BuildClass.build, BuildClass.place)
        )
        for build, class_id, levels in found:
            held[build][class_id] = levels
        return held

    async def count(self, server: int) -> int:
        """Return how many builds a server has, removed ones too."""
        found = await self._link.session.scalar(
            select(func.count()).select_from(BuildRow).where(BuildRow.server == server)
        )
        return found or 0


def visible(server: int, member: int) -> Select[BuildRow]:
    """Return the statement for builds that a member may see: shared ones, and drafts that are the member's to edit."""
    return select(BuildRow).where(
        BuildRow.server == server,
        BuildRow.removed.is_(False),
        seen_by(member),
    )


def seen_by(member: int) -> ColumnElement[bool]:
    """Return the condition that a build is shared, or a draft that the member may edit."""
    return or_(BuildRow.shared.is_(True), BuildRow.author == member, _helps(member))


def _helps(member: int) -> ColumnElement[bool]:
    return exists().where(
        CoAuthor.server == BuildRow.server, CoAuthor.build == BuildRow.number, CoAuthor.member == member
    )
