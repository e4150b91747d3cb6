"""`/writeup` and the files of a build: drafted, checked, filled, kept; printed, exported, archived."""

import io
import json
import zipfile
from pathlib import Path

from pypdf import PdfReader
from simcord.results import InteractionResult

from bot.cli import main
from tests.bot.conftest import DATA, WARDEN, Moot

TEXT = (DATA / "reed-warden.md").read_bytes()


async def files(moot: Moot, result: InteractionResult) -> dict[str, bytes]:
    """Return the attachments of an answer as it stands now: file name -> bytes."""
    messages = [moot.now(message) for message in moot.messages(result)]
    return {a.filename: await a.read() for message in messages for a in message.attachments}


async def test_a_draft_checks_as_right_and_a_text_with_mistakes_does_not(moot: Moot) -> None:
    await moot.warden()
    drafted = await moot.say("tiva", "writeup draft", build="Reed Warden")
    assert drafted.ephemeral
    frame = (await files(moot, drafted))["write-up.md"]
    assert frame.startswith(b"# Reed Warden\n")
    right = moot.read(await moot.say("tiva", "writeup check", build="Reed Warden", file=("w.md", frame)))
    assert "marked numbers are right." in right
    assert "Wrong" not in right
    wrong = moot.read(await moot.say("tiva", "writeup check", build="Reed Warden", file=("w.md", TEXT)))
    assert "12 of 24 marked numbers are right." in wrong
    assert "Line 9: Insight at level 1: +4, not +5 (+2 Wisdom 15, +2 proficiency bonus, level 1)" in wrong


async def test_filling_gives_the_text_back_with_right_numbers(moot: Moot) -> None:
    await moot.warden()
    filled = await moot.say("oskar", "writeup fill", build="#1", file=("w.md", TEXT))
    assert "12 numbers put right" in moot.read(filled)
    text = (await files(moot, filled))["write-up-filled.md"]
    assert text.count(b"\n") == TEXT.count(b"\n")
    again = moot.read(await moot.say("oskar", "writeup check", build="#1", file=("w.md", text)))
    assert "All 24 marked numbers are right." in again


async def test_stripping_gives_the_text_to_publish(moot: Moot) -> None:
    text = b"\xef\xbb\xbf# Reed\r\n\r\nStealth **[+9](num:8/skill.stealth)** and `[+9](num:8/ac)`\r\n"
    stripped = await moot.say("oskar", "writeup strip", file=("w.md", text))
    assert stripped.ephemeral
    found = await files(moot, stripped)
    assert found == {"write-up-to-publish.md": text.replace(b"[+9](num:8/skill.stealth)", b"+9")}
    refused = await moot.say("oskar", "writeup strip", file=("w.md", b"\xff"))
    assert "is no UTF-8 text" in moot.read(refused)


async def test_a_kept_text_says_what_became_wrong_when_the_build_moved_on(moot: Moot) -> None:
    await moot.warden()
    none = await moot.say("tiva", "writeup check", build="Reed Warden")
    assert "No write-up of Reed Warden is kept yet" in moot.read(none)
    text = b"Stealth [+9](num:8/skill.stealth), Perception [+10](num:8/skill.perception), AC [13](num:8/ac)."
    kept = moot.read(await moot.say("tiva", "writeup check", build="Reed Warden", file=("w.md", text)))
    assert "Kept: when the build moves on" in kept
    await moot.say(
        "tiva", "build edit", build="Reed Warden", file=("w.txt", WARDEN.replace("+2 Wis;", "+2 Dex;").encode())
    )
    await moot.restart()
    moved = moot.read(await moot.say("tiva", "writeup check", build="Reed Warden"))
    assert "Since revision 1, 2 numbers became wrong. 0 of 3 marked numbers are right." in moved
    assert "Became wrong (2)" in moved
    assert "Stealth at level 8: +10, not +9" in moved
    assert "Wrong before (1)" in moved


async def test_only_the_authors_text_is_kept(moot: Moot) -> None:
    await moot.warden()
    checked = moot.read(await moot.say("oskar", "writeup check", build="#1", file=("w.md", TEXT)))
    assert "Kept:" not in checked
    assert "No write-up" in moot.read(await moot.say("oskar", "writeup check", build="#1"))


async def test_texts_that_cannot_be_read_are_refused_in_words(moot: Moot) -> None:
    await moot.warden()
    for data, words in ((b"caf\xe9", "line 1 is no UTF-8 text"), (b"x" * 2_000_000, "2.0 MB")):
        refused = await moot.say("tiva", "writeup check", build="Reed Warden", file=("w.md", data))
        assert refused.ephemeral
        assert words.casefold() in moot.read(refused).casefold()


# -- files of a build -------------------------------------------------------------------------------------------------


async def test_a_sheet_is_a_pdf_and_a_picture(moot: Moot) -> None:
    await moot.warden()
    result = await moot.say("oskar", "build sheet", build="#1", level=8, paper="US Letter")
    found = await files(moot, result)
    assert set(found) == {"build-1-level-8.pdf", "sheet.png"}
    assert found["sheet.png"].startswith(b"\x89PNG")
    text = PdfReader(io.BytesIO(found["build-1-level-8.pdf"])).pages[0].extract_text()
    assert text.startswith("Reed Warden\nLevel 8 · Rogue 4 (Thief), Ranger 4 (Hunter)")
    plan = await files(moot, await moot.say("oskar", "build sheet", build="#1", plan=True))
    assert len(PdfReader(io.BytesIO(plan["build-1-plan.pdf"])).pages) == 2


async def test_an_exported_build_is_imported_as_the_same_document(moot: Moot) -> None:
    await moot.warden()
    found = await files(moot, await moot.say("oskar", "build export", build="#1", schema=True))
    document = found["build-1-revision-1.json"]
    assert found["build-1-revision-1.outline.txt"].decode() == WARDEN
    import jsonschema

    jsonschema.Draft202012Validator(json.loads(found["build.schema.json"])).validate(json.loads(document))
    twin = document.replace(b'"name": "Reed Warden"', b'"name": "Reed Twin"')
    imported = await moot.say("oskar", "build import", file=("twin.json", twin))
    assert "Reed Twin" in moot.read(imported)
    again = await files(moot, await moot.say("oskar", "build export", build="Reed Twin"))
    assert again["build-2-revision-1.json"] == twin
    for data, words in (
        (b"[", "no JSON"),
        (b'{"schema": 1, "name": 3}', "name"),
        (b'{"schema": 99, "name": "x"}', "newer"),
    ):
        refused = await moot.say("oskar", "build import", file=("x.json", data))
        assert refused.ephemeral
        assert words in moot.read(refused)


async def test_managers_take_everything_of_their_server_along_and_it_can_be_read_back(
    moot: Moot, tmp_path: Path, capsys
) -> None:
    await moot.warden()
    await moot.say("tiva", "build load", file=("x.txt", b"Build: Sunken Bell\n1-2 Wizard\n"))
    refused = await moot.say("oskar", "build archive")
    assert refused.ephemeral
    assert "Only" in moot.read(refused)
    result = await moot.say("maren", "build archive")
    assert result.ephemeral
    assert "1 private draft is left out." in moot.read(result)
    data = (await files(moot, result))["server-archive.zip"]
    assert b"Sunken" not in b"".join(
        zipfile.ZipFile(io.BytesIO(data)).read(n) for n in zipfile.ZipFile(io.BytesIO(data)).namelist()
    )
    place = tmp_path / "server.zip"
    place.write_bytes(data)
    assert main(["archive", str(place), "--to", str(tmp_path / "out"), "--json"]) == 0
    listed = json.loads(capsys.readouterr().out)
    assert listed["builds"] == [{"number": 1, "name": "Reed Warden", "revision": 1}]
    assert (tmp_path / "out" / "1.outline").read_text(encoding="utf-8") == WARDEN
    # A document that was changed afterwards is noticed.
    target = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(target, "w") as new:
        for name in old.namelist():
            new.writestr(name, old.read(name).replace(b"Reed Warden", b"Reed Wardon"))
    place.write_bytes(target.getvalue())
    assert main(["archive", str(place)]) == 2
    assert "its hash differs" in capsys.readouterr().err
