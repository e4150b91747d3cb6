"""Folios of servers: who may bring them, which builds are read by which version, and what happens when they change."""

import asyncio
import io
import pickle
import time
import zipfile
from pathlib import Path
from typing import Any

import pytest

from engine.audit.audit import audit_of
from engine.audit.context import AuditContext
from engine.build.document import Build, dump
from engine.odds.asked import Asked
from engine.problem import Refused
from engine.publish.pool import Workers
from engine.review.approval import Stand
from engine.review.machine import State
from engine.rules.catalog import Catalog
from engine.rules.folio import Folio
from engine.services import folios as folios_module
from engine.services import library, shelves
from engine.services.approvals import (
    ApproveBuild,
    ShowSubmission,
    SubmitBuild,
    approve_build,
    show_submission,
    submit_build,
)
from engine.services.builds import (
    BuildHistory,
    EditBuild,
    GetBuild,
    LoadBuild,
    build_history,
    edit_build,
    get_build,
    load_build,
)
from engine.services.exports import ReadExport, read_export
from engine.services.facts import (
    FactView,
    FindFact,
    OpenCatalog,
    SuggestFacts,
    find_fact,
    open_catalog,
    suggest_facts,
)
from engine.services.folio_moves import ConcernedBuilds, MoveBuild, concerned_builds, move_build
from engine.services.folio_settings import (
    SetLibrarians,
    ShowLibrary,
    SwitchFolio,
    UseVersion,
    set_librarians,
    show_library,
    switch_folio,
    use_version,
)
from engine.services.folio_views import FolioAdded, FolioChecked, FolioErrors
from engine.services.folios import (
    AddFolio,
    BringBackFolio,
    CheckFolio,
    ExportFolio,
    ListFolios,
    RemoveFolio,
    ShowFolio,
    SuggestFolios,
    add_folio,
    bring_back_folio,
    check_folio,
    export_folio,
    list_folios,
    remove_folio,
    show_folio,
    suggest_folios,
)
from engine.services.library import parcel
from engine.services.odds import AskOdds, ask_odds, needs_store, suggest_creatures
from engine.services.privacy import EraseMember, MyData, erase_member, my_data
from engine.services.proposals import AdoptProposal, adopt_proposal
from engine.services.sheets import exported
from engine.services.tables import CloseTable, SetTableRules, close_table, set_table_rules
from engine.services.views import BuildView, ProposalView, TextErrors
from engine.services.weigh import opened
from engine.services.writeups import draft_of
from engine.sheet import sheet
from engine.store.database import Database
from engine.store.folio_files import folio_bytes, load_folder
from tests.engine.services.world import (
    AUTHOR,
    EDDIES,
    ELSEWHERE,
    HERE,
    MANAGER,
    MASTER,
    READER,
    SHOALS,
    SHOALS_2,
    SOUNDER,
    T0,
    WRECKS,
    World,
    add,
    at,
    load,
    ok,
    propose,
    refused,
    share,
)

WORKED = Path(__file__).parents[2] / "data" / "folios"
EEL = b"""\
creatures:
  - id: channel-eel
    name: Channel Eel
    size: medium
    type: beast
    ac: 13
    hp: 19
    hp_dice: 3d8+6
    speeds: {swim: 40}
    scores: {str: 12, dex: 14, con: 14, int: 2, wis: 10, cha: 4}
    passive_perception: 10
    challenge: 1/2
    xp: 100
"""
BELL_PILOT = (Path(__file__).parents[3] / "bot" / "room" / "seed" / "bell-pilot.outline").read_text("utf-8")


def zipped(folder: Path) -> bytes:
    """Return a folder as a zip, with the folder around its files."""
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for path, data in folio_bytes(folder).items():
            archive.writestr(f"{folder.name}/{path}", data)
    return made.getvalue()


def passive(view: BuildView) -> int:
    """Return the passive Perception of a build at its last level."""
    value = sheet(view.build, view.catalog, view.build.top).numbers["skill.perception.passive"].value
    assert isinstance(value, int)
    return value


def codes(view: BuildView) -> set[str]:
    """Return the codes of what the audit says of a build."""
    return {finding.code for finding in audit_of(AuditContext.of(view.build, view.catalog))}


async def read(database: Database, build: int, *, member: int = READER, revision: int | None = None) -> BuildView:
    """Return a build as it is read now."""
    command = GetBuild(server=HERE, member=member, build=build, revision=revision)
    return ok(await database.call(get_build, command))


async def change(database: Database, service: Any, command: type, **more: Any) -> Any:
    """Run a service about folios as somebody who manages the server."""
    return await database.call(service, command(server=HERE, member=MANAGER, manager=True, at=at(1), **more))


@pytest.fixture
def cold(monkeypatch: pytest.MonkeyPatch) -> None:
    """A process that has read no folio of any server yet."""
    for name in ("_folios", "_catalogs", "_pickles"):
        kept = getattr(library, name)
        monkeypatch.setattr(library, name, type(kept)())


# -- bringing them ----------------------------------------------------------------------------------------------


async def test_the_worked_folios_carry_a_build_of_twenty_levels(database: Database, cold: None) -> None:
    """As zip and as single files, the build is the one that the same files give from disk, number by number."""
    for path in sorted(WORKED.iterdir()):
        data = zipped(path) if path.is_dir() else path.read_bytes()
        command = AddFolio(server=HERE, member=MANAGER, name=path.name, data=data, at=T0, manager=True)
        added = ok(await database.call(add_folio, command))
        assert isinstance(added, FolioAdded)
        assert (added.notes, added.concerned) == ((), 0)
    view = await load(database, BELL_PILOT)
    from_disk = [load_folder(path) for path in sorted(WORKED.iterdir())]
    assert {(use.id, use.version, use.hash) for use in view.build.folios} == {
        (folio.id, folio.header.version, folio.hash) for folio in from_disk
    }
    others = {folio.id: folio for folio in from_disk}
    same = library.catalog_of(view.build, others)
    assert isinstance(same, Catalog)
    assert not codes(view) & {"missing-content", "missing-folio", "folio-changed"}
    for level in (1, 11, 20):
        assert sheet(view.build, view.catalog, level).numbers == sheet(view.build, same, level).numbers
    numbers = sheet(view.build, view.catalog, 20).numbers
    # The fighter subclass counts a roll of 7 or lower as 8: 8 + the bonus.
    lowest, bonus = numbers["skill.survival.lowest"].value, numbers["skill.survival"].value
    assert isinstance(bonus, int)
    assert lowest == 8 + bonus


async def test_what_a_check_says_and_that_it_keeps_nothing(world: World) -> None:
    """Title, author, licence, version and counts, and what is worth a look; nothing is stored by it."""
    before = await world.rows(HERE)
    data = (WORKED / "driftborn.yaml").read_bytes()
    found = await world.call(check_folio, CheckFolio(server=HERE, member=READER, name="driftborn.yaml", data=data))
    assert isinstance(found, FolioChecked)
    assert (found.title, found.version, found.author) == ("Driftborn", "1", "Sela of the archive")
    assert found.licence == "CC-BY-4.0"
    assert dict(found.counts) == {"species": 3, "background": 1, "feat": 1, "state": 1}
    assert found.hash == load_folder(WORKED / "driftborn.yaml").hash
    assert found.notes == ()
    clash = EDDIES.replace(b"author: Maren of the Lantern Coast\n", b"").replace(b"sounding-lead", b"grappler")
    noted = await world.call(check_folio, CheckFolio(server=HERE, member=READER, name="x.yaml", data=clash))
    assert isinstance(noted, FolioChecked)
    assert [note.partition(";")[0] for note in noted.notes] == [
        "The folio names no author",
        "The feat Sounding Lead has the id `grappler`, which SRD 5.1 has too",
    ]
    assert await world.rows(HERE) == before


async def test_every_error_at_once_with_file_and_line(world: World) -> None:
    """Of a single file under its own name; nothing is kept."""
    bad = EDDIES.replace(b"name: Sounding Lead", b"nam: Sounding Lead").replace(b"amount: 1,", b"amount: high,")
    before = await world.rows(HERE)
    for service, command in (
        (check_folio, CheckFolio(server=HERE, member=READER, name="eddies.yaml", data=bad)),
        (add_folio, AddFolio(server=HERE, member=MANAGER, name="eddies.yaml", data=bad, at=T0, manager=True)),
    ):
        found = await world.call(service, command)
        assert isinstance(found, FolioErrors)
        assert [line.partition(";")[0] for line in found.lines] == [
            "eddies.yaml:9: `name` is missing",
            "eddies.yaml:10: `nam` is no key that is known here",
            "eddies.yaml:12: `grants.0.amount`: `high` is no word of formulas",
        ]
    wrong_zip = AddFolio(server=HERE, member=MANAGER, name="x.zip", data=b"PK\x03\x04nonsense", at=T0, manager=True)
    told = await world.call(add_folio, wrong_zip)
    assert isinstance(told, FolioErrors)
    assert "zip the folder anew" in told.lines[0]
    assert await world.rows(HERE) == before


async def test_files_are_read_one_after_another(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    """However many members bring one at once."""
    at_work, most = 0, 0
    plain = folios_module._parsed

    def counted(*args: Any) -> Any:
        nonlocal at_work, most
        at_work += 1
        most = max(most, at_work)
        try:
            time.sleep(0.02)
            return plain(*args)
        finally:
            at_work -= 1

    monkeypatch.setattr(folios_module, "_parsed", counted)
    command = CheckFolio(server=HERE, member=READER, name="eddies.yaml", data=EDDIES)
    found = await asyncio.gather(*(world.call(check_folio, command) for _ in range(5)))
    assert all(isinstance(each, FolioChecked) for each in found)
    assert most == 1


async def test_what_is_refused_when_it_is_added(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    """One sentence each, and nothing is stored."""
    before = await world.rows(HERE)
    changed = SHOALS_2.replace(b"amount: 3", b"amount: 5")
    assert "new `version:`" in refused(await add(world.database, changed), "version-taken")
    assert "nothing was changed" in refused(await add(world.database, SHOALS), "already-there")
    assert "/content back" in refused(await add(world.database, WRECKS), "already-there")
    called_alike = EDDIES.replace(b"title: Eddies", b"title: SHOAL")
    assert "Shoals (shoals)" in refused(await add(world.database, called_alike), "title-taken")
    release = EDDIES.replace(b"title: Eddies", b"title: SRD 5.1")
    assert "id and title of its own" in refused(await add(world.database, release), "id-taken")
    refused(await add(world.database, b"x" * (folios_module.LONGEST_FILE + 1)), "file-too-large")
    with monkeypatch.context() as patched:
        patched.setattr(folios_module, "MOST_FOLIOS", 1)
        refused(await add(world.database, EDDIES), "too-many-folios")
    # Of the three versions that are there, one is used by a build, one is in use, and one was taken away.
    with monkeypatch.context() as patched:
        patched.setattr(folios_module, "MOST_VERSIONS", 2)
        refused(await add(world.database, EDDIES), "too-many-versions")
    with monkeypatch.context() as patched:
        patched.setattr(folios_module, "MOST_SIZE", len(SHOALS) * 2)
        refused(await add(world.database, EDDIES), "library-full")
    assert await world.rows(HERE) == before
    assert isinstance(await add(world.database, EDDIES), FolioAdded)


async def test_room_is_made_of_what_nothing_needs(database: Database, monkeypatch: pytest.MonkeyPatch) -> None:
    """First what was taken away or superseded and no revision or proposal names; what a build uses stays."""
    ok(await add(database, SHOALS))
    sounder = (await share(database, (await load(database, SOUNDER)).number)).number
    ok(await add(database, SHOALS_2))
    ok(await add(database, WRECKS))
    ok(await change(database, remove_folio, RemoveFolio, folio="wrecks"))
    for limit, value in (("MOST_VERSIONS", 3), ("MOST_SIZE", len(SHOALS) * 3 + 10)):
        monkeypatch.setattr(folios_module, limit, value)
    added = ok(await add(database, EDDIES))
    assert added.notes == ("To make room, versions that no build uses were deleted: Wrecks 1.",)
    assert await database.call(list_folios, ListFolios(server=HERE, member=READER, removed=True)) == []
    # Shoals 1 is what the build is made with, and an earlier revision of it counts as well.
    command = MoveBuild(server=HERE, member=AUTHOR, build=sounder, folio="shoals", at=at(1))
    ok(await database.call(move_build, command))
    more = EDDIES.replace(b"ddies", b"bbs")
    refused(await add(database, more), "too-many-versions")
    assert passive(await read(database, sounder, revision=1)) == 18
    newer = EDDIES.replace(b'version: "1"', b'version: "2"')
    refused(await add(database, newer), "too-many-versions")
    ok(await change(database, remove_folio, RemoveFolio, folio="eddies"))
    ebbs = ok(await add(database, more))
    assert ebbs.notes == ("To make room, versions that no build uses were deleted: Eddies 1.",)
    header = SOUNDER.partition("1 Rogue")[0].replace("Folios: Shoals", "Folios: Shoals, Ebbs")
    await propose(database, sounder, "header", header)
    ok(await change(database, remove_folio, RemoveFolio, folio="ebbs"))
    refused(await add(database, EDDIES), "too-many-versions")
    view = ok(await database.call(show_folio, ShowFolio(server=HERE, member=READER, folio="shoals")))
    assert [(each.version, len(each.builds)) for each in view.versions] == [("2", 1), ("1", 0)]
    found = ok(await database.call(concerned_builds, ConcernedBuilds(server=HERE, member=READER, folio="shoals")))
    assert found.builds == ()


async def test_who_may_add_folios(world: World) -> None:
    """Managers; then a role; then everybody, who change only their own."""
    refused(await add(world.database, EDDIES, member=READER), "not-allowed")
    refused(await add(world.database, EDDIES, member=READER, roles=frozenset({77})), "not-allowed")
    ok(await change(world.database, set_librarians, SetLibrarians, role=77))
    refused(await add(world.database, EDDIES, member=READER, roles=frozenset({78})), "not-allowed")
    ok(await add(world.database, EDDIES, member=READER, roles=frozenset({77})))
    setting = await world.call(show_library, ShowLibrary(server=HERE, member=READER))
    assert (setting.librarians, setting.everybody, setting.versions) == (77, False, 4)
    refused(await change(world.database, set_librarians, SetLibrarians, role=77), "nothing-changed")
    taking = RemoveFolio(server=HERE, member=READER, folio="shoals", at=T0, roles=frozenset({77}))
    ok(await world.call(remove_folio, taking))
    back = BringBackFolio(server=HERE, member=READER, folio="shoals", at=T0, roles=frozenset({77}))
    ok(await world.call(bring_back_folio, back))
    ok(await change(world.database, set_librarians, SetLibrarians, role=HERE))
    assert (await world.call(show_library, ShowLibrary(server=HERE, member=READER))).everybody
    own = EDDIES.replace(b'version: "1"', b'version: "2"')
    other = own.replace(b"ddies", b"bbs")
    refused(await add(world.database, own, member=AUTHOR), "not-allowed")
    ok(await add(world.database, own, member=READER))
    ok(await add(world.database, other, member=AUTHOR))
    refused(
        await world.call(remove_folio, RemoveFolio(server=HERE, member=AUTHOR, folio="eddies", at=T0)), "not-allowed"
    )
    ok(await world.call(remove_folio, RemoveFolio(server=HERE, member=READER, folio="Eddies", at=T0)))


async def test_a_folio_is_listed_shown_and_handed_out_as_it_came(world: World) -> None:
    """With who added each version and the builds that use it; drafts of others are counted, not named."""
    listed = await world.call(list_folios, ListFolios(server=HERE, member=READER))
    assert [(each.id, each.title, each.version, each.added_by) for each in listed] == [
        ("shoals", "Shoals", "2", MANAGER)
    ]
    assert (listed[0].author, listed[0].licence, listed[0].entries) == ("Maren of the Lantern Coast", "CC0-1.0", 1)
    gone = await world.call(list_folios, ListFolios(server=HERE, member=READER, removed=True))
    assert [(each.id, each.removed) for each in gone] == [("wrecks", T0)]
    suggested = await world.call(suggest_folios, SuggestFolios(server=HERE, member=READER, text="SHO"))
    assert [each.id for each in suggested] == ["shoals"]
    assert await world.call(suggest_folios, SuggestFolios(server=HERE, member=READER, text="reef")) == []
    hidden = await load(world.database, SOUNDER.replace("Shoal Sounder", "Quiet Sounder"))
    for member, seen, count in ((READER, (), 1), (AUTHOR, ((hidden.number, "Quiet Sounder"),), 0)):
        view = ok(await world.call(show_folio, ShowFolio(server=HERE, member=member, folio="SHOALS")))
        assert [(each.version, each.current, each.added_by) for each in view.versions] == [
            ("2", True, MANAGER),
            ("1", False, MANAGER),
        ]
        assert view.versions[1].builds == ((world.sounder, "Shoal Sounder"),)
        assert (view.versions[0].builds, view.versions[0].hidden) == (seen, count)
        assert view.counts == (("feat", 1),)
        assert view.attribution == "made for the Lantern Coast Cartographers"
    for version, data in (("1", SHOALS), ("2", SHOALS_2), (None, SHOALS_2)):
        file = ok(
            await world.call(export_folio, ExportFolio(server=HERE, member=READER, folio="shoals", version=version))
        )
        assert file.data == data
    pilots = zipped(WORKED / "coast-pilots")
    command = AddFolio(server=HERE, member=MANAGER, name="my pilots.zip", data=pilots, at=T0, manager=True)
    ok(await world.call(add_folio, command))
    file = ok(await world.call(export_folio, ExportFolio(server=HERE, member=READER, folio="Coast Pilots")))
    assert (file.name, file.data) == ("my pilots.zip", pilots)
    missing = ExportFolio(server=HERE, member=READER, folio="shoals", version="9")
    assert "there are: 2, 1" in refused(await world.call(export_folio, missing), "no-such-version")
    unknown = await world.call(show_folio, ShowFolio(server=HERE, member=READER, folio="Shoal's Ends"))
    assert "Nearest: Shoals" in refused(unknown, "no-such-folio")


# -- builds and their versions ----------------------------------------------------------------------------------


async def test_other_servers_see_nothing_of_it(world: World) -> None:
    """Neither by its names nor in what they may look up."""
    command = LoadBuild(server=ELSEWHERE, member=READER, text=SOUNDER, at=T0)
    found = await world.call(load_build, command)
    assert isinstance(found, TextErrors)
    assert "the folio `shoals` is not loaded here; loaded: SRD 5.1" in found.errors[0].sentence
    for server, there in ((HERE, True), (ELSEWHERE, False)):
        fact = await world.call(find_fact, FindFact(server=server, member=READER, name="Sounding Lead"))
        assert isinstance(fact, FactView) is there
        offered = await world.call(suggest_facts, SuggestFacts(server=server, member=READER, text="sounding"))
        assert bool(offered) is there
    refused(await world.call(show_folio, ShowFolio(server=ELSEWHERE, member=READER, folio="shoals")), "no-such-folio")


async def test_what_a_folio_hides_can_be_looked_up_all_the_same(world: World) -> None:
    """Builds that use it have its own in the other's place; whoever looks a name up is told of both."""
    taking = EDDIES.replace(b"extends: srd-5.1\n", b"extends: srd-5.1\nreplaces: [grappler]\n")
    taking = taking.replace(b"sounding-lead", b"grappler").replace(b"Sounding Lead", b"Grappler")
    ok(await add(world.database, taking))
    found = ok(await world.call(find_fact, FindFact(server=HERE, member=READER, name="Grappler")))
    assert found.others == ("Grappler (feat, Eddies)",)
    assert found.facts.source.startswith("SRD 5.1")
    offered = await world.call(suggest_facts, SuggestFacts(server=HERE, member=READER, text="grappler"))
    assert dict(offered) == {
        "feat:srd-5.1/grappler": "Grappler (feat)",
        "feat:eddies/grappler": "Grappler (feat, Eddies)",
    }
    view = await load(world.database, "Build: Wrestler\nFolios: Eddies\n1-3 Fighter\n4 Fighter: feat Grappler\n")
    named = view.catalog.find("feat", "Grappler")
    assert [each.folio for each in named] == ["eddies"]


async def test_a_stored_build_keeps_its_version_and_new_ones_get_the_one_in_use(world: World) -> None:
    """10 + Wisdom +2 + twice the proficiency bonus of +2 = 16, and the 2 or 3 of the folio's version."""
    old = await read(world.database, world.sounder)
    assert old.build.folios[0].version == "1"
    assert passive(old) == 18
    new = await load(world.database, SOUNDER.replace("Shoal Sounder", "Second Sounder"))
    assert new.build.folios[0].version == "2"
    assert passive(new) == 19
    edited = EditBuild(server=HERE, member=AUTHOR, build=world.sounder, part=3, text="3 Rogue hp 5", at=at(1))
    after = ok(await world.call(edit_build, edited))
    assert (after.build.folios, passive(after)) == (old.build.folios, 18)
    named = LoadBuild(
        server=HERE,
        member=READER,
        text=SOUNDER.replace("Shoal Sounder", "Third Sounder").replace("Folios: Shoals", "Folios: shoals (version 1)"),
        at=T0,
    )
    third = ok(await world.call(load_build, named))
    assert (third.build.folios[0].version, passive(third)) == ("1", 18)
    assert third.build.folios == old.build.folios
    unheard = LoadBuild(
        server=HERE,
        member=READER,
        text=named.text.replace("Third", "Ninth").replace("(version 1)", "(version 9)"),
        at=T0,
    )
    ninth = ok(await world.call(load_build, unheard))
    assert (passive(ninth), "folio-changed" in codes(ninth)) == (19, True)
    assert "folio-changed" not in codes(third)
    ok(await change(world.database, use_version, UseVersion, folio="shoals", version="1"))
    fourth = await load(world.database, SOUNDER.replace("Shoal Sounder", "Fourth Sounder"))
    assert passive(fourth) == 18
    assert passive(await read(world.database, new.number, member=AUTHOR)) == 19
    again = await change(world.database, use_version, UseVersion, folio="shoals", version="1")
    refused(again, "nothing-changed")


async def test_another_process_reads_the_same(world: World, cold: None) -> None:
    """Nothing hangs on what was in memory."""
    view = await read(world.database, world.sounder)
    assert passive(view) == 18
    assert [folio.hash for folio in view.catalog.folios[1:]] == [use.hash for use in view.build.folios]


async def test_a_header_may_name_a_folio_by_edit_and_by_proposal(world: World) -> None:
    """And keeps the version that the build has unless it says another."""
    header = "Build: Reed Warden\nFolios: Shoals\nSpecies: Human"
    taken_on = ok(
        await world.call(
            edit_build, EditBuild(server=HERE, member=AUTHOR, build=world.build, part="header", text=header, at=at(1))
        )
    )
    assert [use.version for use in taken_on.build.folios] == ["2"]
    lead = EditBuild(
        server=HERE, member=AUTHOR, build=world.build, part=4, text="4 Rogue: feat Sounding Lead", at=at(2)
    )
    assert "missing-content" not in codes(ok(await world.call(edit_build, lead)))
    renamed = SOUNDER.partition("1 Rogue")[0].replace("Shoal Sounder", "Deep Sounder")
    command = EditBuild(server=HERE, member=AUTHOR, build=world.sounder, part="header", text=renamed, at=at(1))
    kept = ok(await world.call(edit_build, command))
    assert [use.version for use in kept.build.folios] == ["1"]
    ok(await add(world.database, EDDIES))
    both = renamed.replace("Folios: Shoals", "Folios: Shoals, Eddies")
    asked = await propose(world.database, world.sounder, "header", both)
    assert [use.id for use in asked.proposed.folios] == ["shoals", "eddies"]
    whole = "Build: Deep Sounder\nFolios: shoals (version 2)\n1-4 Rogue\n"
    newer = await propose(world.database, world.sounder, "whole", whole)
    assert newer.proposed.folios[0].version == "2"
    unknown = EditBuild(
        server=HERE, member=AUTHOR, build=world.sounder, part="header", text="Build: X\nFolios: Tides\n", at=at(3)
    )
    found = await world.call(edit_build, unknown)
    assert isinstance(found, TextErrors)
    assert "the folio `tides` is not loaded here" in found.errors[0].sentence


async def test_a_removed_folio_loses_nothing(world: World) -> None:
    """The build keeps its ids and says what is missing; brought back, it is as it was."""
    before = await read(world.database, world.sounder)
    taken = ok(await change(world.database, remove_folio, RemoveFolio, folio="shoals"))
    assert taken.brief.removed == at(1)
    view = await read(world.database, world.sounder)
    assert (view.build, view.revision.hash) == (before.build, before.revision.hash)
    assert {"missing-content", "missing-folio"} <= codes(view)
    assert passive(view) == 16
    command = LoadBuild(server=HERE, member=READER, text=SOUNDER.replace("Shoal", "Late"), at=T0)
    assert isinstance(await world.call(load_build, command), TextErrors)
    file = ok(await world.call(export_folio, ExportFolio(server=HERE, member=READER, folio="shoals", version="1")))
    assert file.data == SHOALS
    gone = await change(world.database, remove_folio, RemoveFolio, folio="shoals")
    assert "/content back" in refused(gone, "no-such-folio")
    ok(await change(world.database, bring_back_folio, BringBackFolio, folio="shoals"))
    again = await read(world.database, world.sounder)
    assert passive(again) == 18
    assert not codes(again) & {"missing-content", "missing-folio"}
    refused(await change(world.database, bring_back_folio, BringBackFolio, folio="shoals"), "nothing-changed")


async def test_a_new_version_brings_a_removed_folio_back(world: World) -> None:
    """The version that comes is in use, the earlier ones are there again."""
    added = ok(await add(world.database, WRECKS.replace(b'version: "1"', b'version: "2"')))
    assert added.view.brief.removed is None
    assert [(each.version, each.current) for each in added.view.versions] == [("2", True), ("1", False)]


# -- on and off -------------------------------------------------------------------------------------------------


async def test_off_for_the_server_and_on_for_a_table(world: World) -> None:
    """What is off cannot be named by new builds; a table tells of builds that use what is off there."""
    text = SOUNDER.replace("Shoal Sounder", "Late Sounder")
    command = LoadBuild(server=HERE, member=READER, text=text, at=T0)
    submit = SubmitBuild(server=HERE, member=AUTHOR, build=world.sounder, table=world.table, at=at(1))
    submission = ok(await world.call(submit_build, submit))
    assert not any(finding.code == "table-folio" for finding in submission.findings)
    off = ok(await change(world.database, switch_folio, SwitchFolio, folio="shoals", on=False))
    assert off.touched == (submission.number,)
    assert not off.brief.everywhere
    assert isinstance(await world.call(load_build, command), TextErrors)
    fact = await world.call(find_fact, FindFact(server=HERE, member=READER, name="Sounding Lead"))
    refused(fact, "no-such-fact")
    assert passive(await read(world.database, world.sounder)) == 18
    shown = ok(await world.call(show_submission, ShowSubmission(server=HERE, member=READER, subject=submission.number)))
    assert [f.code for f in shown.findings if f.code == "table-folio"] == ["table-folio"]
    at_table = {"folio": "shoals", "table": world.table, "at": at(2)}
    by_player = SwitchFolio(server=HERE, member=AUTHOR, on=True, **at_table)
    refused(await world.call(switch_folio, by_player), "not-allowed")
    by_gm = SwitchFolio(server=HERE, member=MASTER, on=True, **at_table)
    on = ok(await world.call(switch_folio, by_gm))
    assert on.brief.tables == ((world.table, "Marsh Table"),)
    refused(await world.call(switch_folio, by_gm), "nothing-changed")
    shown = ok(await world.call(show_submission, ShowSubmission(server=HERE, member=READER, subject=submission.number)))
    assert not any(finding.code == "table-folio" for finding in shown.findings)
    assert passive(ok(await world.call(load_build, command))) == 19
    rules = SetTableRules(server=HERE, member=MASTER, table=world.table, text="folios: [Eddies]\n", at=at(3))
    table = ok(await world.call(set_table_rules, rules))
    assert table.notes == ("`folios` names `Eddies`, which is on nowhere on this server.",)
    shown = ok(await world.call(show_submission, ShowSubmission(server=HERE, member=READER, subject=submission.number)))
    assert any(finding.code == "table-folio" for finding in shown.findings)
    named_again = LoadBuild(server=HERE, member=READER, text=text.replace("Late", "Last"), at=T0)
    ok(await world.call(close_table, CloseTable(server=HERE, member=MASTER, table=world.table, at=at(4))))
    assert isinstance(await world.call(load_build, named_again), TextErrors)
    again = await change(world.database, switch_folio, SwitchFolio, folio="shoals", on=False)
    refused(again, "nothing-changed")


# -- moving along -----------------------------------------------------------------------------------------------


async def test_which_builds_would_change_and_how(world: World) -> None:
    """To the version in use: one more at level 4. If the folio were gone: two less, and what is missing."""
    command = ConcernedBuilds(server=HERE, member=READER, folio="shoals")
    moving = ok(await world.call(concerned_builds, command))
    [build] = moving.builds
    assert (build.view.number, build.version, moving.more) == (world.sounder, "1", 0)
    rows = [(n.name, n.level, n.before, n.after) for n in build.difference.numbers]
    assert rows == [("skill.perception.passive", 4, 18, 19)]
    assert (build.difference.findings_new, build.difference.findings_gone) == ((), ())
    removal = ConcernedBuilds(server=HERE, member=READER, folio="shoals", removal=True)
    [lost] = ok(await world.call(concerned_builds, removal)).builds
    assert [(n.name, n.level, n.before, n.after) for n in lost.difference.numbers] == [
        ("skill.perception.passive", 4, 18, 16)
    ]
    assert {f.code for f in lost.difference.findings_new} == {"missing-content", "missing-folio"}
    ok(await change(world.database, remove_folio, RemoveFolio, folio="shoals"))
    [gone] = ok(await world.call(concerned_builds, removal)).builds
    assert gone.difference.numbers == lost.difference.numbers
    hidden = await load(world.database, "Build: Sworn\n1 Rogue\n")
    assert hidden.number not in {each.view.number for each in moving.builds}


async def test_a_build_moves_as_a_revision(world: World) -> None:
    """In one step, by its author; its earlier revision is read by the earlier version still."""
    by_reader = MoveBuild(server=HERE, member=READER, build=world.sounder, folio="shoals", at=at(1))
    refused(await world.call(move_build, by_reader), "not-allowed")
    command = MoveBuild(server=HERE, member=AUTHOR, build=world.sounder, folio="Shoals", at=at(1))
    moved = ok(await world.call(move_build, command))
    assert isinstance(moved, BuildView)
    assert (moved.revision.number, moved.build.folios[0].version, passive(moved)) == (2, "2", 19)
    assert moved.revision.reason == "Shoals 2 instead of 1"
    assert passive(await read(world.database, world.sounder, revision=1)) == 18
    page = ok(await world.call(build_history, BuildHistory(server=HERE, member=READER, build=world.sounder)))
    assert "build-revised" in {entry.event for entry in page.items}
    refused(await world.call(move_build, command), "nothing-changed")
    no_use = MoveBuild(server=HERE, member=AUTHOR, build=world.build, folio="shoals", at=at(1))
    refused(await world.call(move_build, no_use), "not-used")
    ok(await change(world.database, remove_folio, RemoveFolio, folio="shoals"))
    refused(await world.call(move_build, command), "no-such-folio")


async def test_a_build_that_is_approved_moves_by_a_proposal(world: World) -> None:
    """The approval stands until it is adopted; asking twice is told."""
    submit = SubmitBuild(server=HERE, member=AUTHOR, build=world.sounder, table=world.table, at=at(1))
    shown = ok(await world.call(submit_build, submit))
    approve = ApproveBuild(server=HERE, member=MASTER, submission=shown.number, token=shown.token, at=at(2))
    assert ok(await world.call(approve_build, approve)).stand is Stand.APPROVED
    command = MoveBuild(server=HERE, member=AUTHOR, build=world.sounder, folio="shoals", at=at(3))
    asked = ok(await world.call(move_build, command))
    assert isinstance(asked, ProposalView)
    assert (asked.state, asked.title) == (State.OPEN, "Shoals 2 instead of 1")
    assert [(n.name, n.level, n.before, n.after) for n in asked.difference.numbers] == [
        ("skill.perception.passive", 4, 18, 19)
    ]
    assert (await read(world.database, world.sounder)).revision.number == 1
    assert f"#{asked.number}" in refused(await world.call(move_build, command), "already-proposed")
    adopt = AdoptProposal(server=HERE, member=AUTHOR, proposal=asked.number, at=at(4))
    ok(await world.call(adopt_proposal, adopt))
    now = await read(world.database, world.sounder)
    assert (now.revision.number, passive(now)) == (2, 19)
    stale = ok(await world.call(show_submission, ShowSubmission(server=HERE, member=READER, subject=shown.number)))
    assert stale.stand is Stand.CHANGED


# -- once per process -------------------------------------------------------------------------------------------


async def test_ten_folios_are_read_once_and_shared_between_servers(
    world: World, cold: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A server's own folios are read when they are asked for; another that has the same ones reads nothing more."""
    letters = "abcdefghij"
    for server in (HERE, ELSEWHERE):
        for letter in letters:
            data = EDDIES.replace(b"ddies", f"ddy-{letter}".encode()).replace(b"sounding", f"lead-{letter}".encode())
            ok(await add(world.database, data, server=server))
    library._folios.clear()
    library._catalogs.clear()
    reads: list[str] = []
    plain = shelves.read_folio

    def counted(files: Any, *more: Any) -> Any:
        found = plain(files, *more)
        assert isinstance(found, Folio)
        reads.append(found.id)
        return found

    monkeypatch.setattr(shelves, "read_folio", counted)
    names = ", ".join(f"Eddy-{letter}" for letter in letters)
    text = f"Build: Ten\nFolios: {names}\n1-3 Rogue\n"
    one = await load(world.database, "Build: Plain\n1 Rogue\n")
    assert reads == []
    first = await load(world.database, f"Build: One\nFolios: Eddy-{letters[0]}\n1 Rogue\n")
    assert reads == ["eddy-a"]
    ten = await load(world.database, text)
    assert sorted(reads) == [f"eddy-{letter}" for letter in letters]
    elsewhere = await load(world.database, text, server=ELSEWHERE)
    assert len(reads) == 10
    assert elsewhere.catalog is ten.catalog
    assert first.catalog.folios[1] is ten.catalog.folios[1]
    assert one.catalog is library.catalog()


async def test_what_is_kept_has_a_limit(cold: None, monkeypatch: pytest.MonkeyPatch) -> None:
    """The folio asked for longest ago goes first; catalogues likewise."""
    found = [load_folder(path) for path in sorted(WORKED.iterdir())]
    monkeypatch.setattr(library, "_MOST_ENTRIES", library.size_of(found[1]) + library.size_of(found[2]))
    for folio in found:
        assert library.hold(folio) is folio
    assert library.held(found[0].hash) is None
    assert library.held(found[2].hash) is found[2]
    monkeypatch.setattr(library, "_MOST_CATALOGS", 2)
    release = library.catalog()
    made = [library.composed([release.folios[0], folio]) for folio in found]
    assert library.composed([release.folios[0], found[2]]) is made[2]
    assert library.composed([release.folios[0], found[0]]) is not made[0]


async def test_a_worker_process_gets_the_folios_it_needs(world: World, cold: None) -> None:
    """A parcel is plain data; without what the server has, the build has a folio missing."""
    view = await read(world.database, world.sounder)
    sent = pickle.dumps(parcel(view.build, view.catalog))
    library._folios.clear()
    library._catalogs.clear()
    found = opened(pickle.loads(sent))
    assert not isinstance(found, Refused)
    build, catalog = found
    assert build == view.build
    assert sheet(build, catalog, 4).numbers == sheet(view.build, view.catalog, 4).numbers
    again = opened(pickle.loads(sent))
    assert not isinstance(again, Refused)
    assert again[1] is catalog
    plain = await read(world.database, world.build)
    assert parcel(plain.build, plain.catalog).folios == ()


async def test_a_real_worker_reads_a_build_of_the_server(world: World) -> None:
    """The draft of a write-up made in another process names the folio's feat, which without the parcel is an id."""
    view = await read(world.database, world.sounder)
    workers = Workers()
    try:
        text = await workers.run(draft_of, parcel(view.build, view.catalog))
        bare = await workers.run(draft_of, dump(view.build))
    finally:
        await workers.close()
    assert isinstance(text, str)
    assert "Sounding Lead" in text
    assert isinstance(bare, str)
    assert "Sounding Lead" not in bare


async def test_an_export_is_read_by_the_folios_of_the_server(world: World) -> None:
    """The outline of an exported build gives the build back, in the version that it was made with."""
    view = await read(world.database, world.sounder)
    text = ok(await world.call(read_export, ReadExport(server=HERE, member=READER, text=exported(view.build))))
    assert isinstance(text, str)
    twin = await load(world.database, text.replace("Shoal Sounder", "Twin Sounder"))
    assert twin.build.model_copy(update={"name": view.build.name}) == view.build
    wrong = ReadExport(server=HERE, member=READER, text='{"schema": 1, "name": "Reed", "level": 3}')
    assert "level" in refused(await world.call(read_export, wrong), "no-build")


async def test_odds_know_the_creatures_of_the_server(world: World) -> None:
    """Where no build is at hand, what is on for the server is looked up; elsewhere nothing is called so."""
    eel = EDDIES.partition(b"feats:")[0] + EEL
    ok(await add(world.database, eel))
    asked = Asked(kind="attack", fields={"bonus": 5, "damage": "1d8"}, creature="Channel Eel")
    assert needs_store([asked])
    found = ok(await world.call(ask_odds, AskOdds(server=HERE, member=READER, asked=(asked,))))
    # Closed form: +5 against AC 13 hits on 8 to 20, 13 of 20, and 4.5 a hit, doubled dice on a 20.
    assert found.answer.hit == pytest.approx(0.65)
    refusal = await world.call(ask_odds, AskOdds(server=ELSEWHERE, member=READER, asked=(asked,)))
    assert isinstance(refusal, Refused)
    catalog = await world.call(open_catalog, OpenCatalog(server=HERE, member=READER))
    assert suggest_creatures(catalog, "channel") == ["Channel Eel"]


# -- members ----------------------------------------------------------------------------------------------------


async def test_who_added_a_folio_is_told_and_erased(world: World) -> None:
    """The folio stays, under no name; its file is no part of what is told as text."""
    ok(await change(world.database, set_librarians, SetLibrarians, role=HERE))
    ok(await add(world.database, EDDIES, member=READER))
    told = await world.call(my_data, MyData(server=HERE, member=READER))
    assert [(row["id"], row["size"], "data" in row) for row in told["folios"]] == [("eddies", len(EDDIES), False)]
    ok(await world.call(erase_member, EraseMember(server=HERE, member=READER, builds="go", at=at(5))))
    view = ok(await world.call(show_folio, ShowFolio(server=HERE, member=AUTHOR, folio="eddies")))
    assert view.brief.added_by < 0
    file = ok(await world.call(export_folio, ExportFolio(server=HERE, member=AUTHOR, folio="eddies")))
    assert file.data == EDDIES


async def test_every_change_is_in_the_history(world: World) -> None:
    """With who, when and which version."""
    earlier = len((await world.rows(HERE))["history"])
    ok(await change(world.database, remove_folio, RemoveFolio, folio="shoals"))
    ok(await change(world.database, bring_back_folio, BringBackFolio, folio="shoals"))
    ok(await add(world.database, EDDIES))
    ok(await change(world.database, switch_folio, SwitchFolio, folio="shoals", on=False))
    ok(await change(world.database, switch_folio, SwitchFolio, folio="shoals", on=True))
    ok(await change(world.database, use_version, UseVersion, folio="shoals", version="1"))
    ok(await change(world.database, set_librarians, SetLibrarians, role=77))
    rows = sorted((await world.rows(HERE))["history"])[earlier:]
    assert {(row[2], row[3], row[5], row[6]) for row in rows} <= {
        (0, "server", MANAGER, at(1)),
        (0, "server", MANAGER, T0),
    }
    events = [row[4] for row in rows]
    assert events == [
        "folio-removed",
        "folio-brought-back",
        "folio-added",
        "folio-switched-off",
        "folio-switched-on",
        "folio-version-used",
        "librarians-set",
    ]


async def test_a_build_from_elsewhere_with_another_text_of_a_folio(world: World) -> None:
    """A hash that is not here falls back on the version in use, and the audit says so."""
    text = SOUNDER.replace("Shoal Sounder", "Foreign Sounder").replace(
        "Folios: Shoals", "Folios: shoals (version 7; hash abcd)"
    )
    view = await load(world.database, text)
    assert isinstance(view.build, Build)
    assert view.build.folios[0].hash == "abcd"
    assert "folio-changed" in codes(view)
    assert passive(view) == 19
    await share(world.database, view.number)
    command = MoveBuild(server=HERE, member=AUTHOR, build=view.number, folio="shoals", at=at(1))
    moved = ok(await world.call(move_build, command))
    assert "folio-changed" not in codes(moved)
