"""The room's first day: folios, builds, an open proposal and remarks, made with the bot's own commands."""

import io
import zipfile
from pathlib import Path
from typing import Any, Final

from bot.room.world import Trouble, World

FOLDER: Final = Path(__file__).parent / "seed"
DEMO_OUTLINE: Final = FOLDER / "reed-warden.outline"
# Who posts which build; the sergeant's seventh level breaks a rule on purpose.
BUILDS: Final = (
    ("sela", "lighthouse-archivist"),
    ("brannoc", "breakwater-sergeant"),
    ("oskar", "fog-chart-pilot"),
)
# What the guild has written for itself, brought by its GM; the bell pilot lives on all of it.
FOLIOS: Final = ("coast-pilots", "harbour-watch.yaml", "driftborn.yaml")
WITH_FOLIOS: Final = (("tiva", "bell-pilot"),)
REMARKS: Final = (
    ("brannoc", "The third attack is worth more to the mole than a second style."),
    ("maren", "At my table either is fine; mind the seventh level first."),
)


async def plant(world: World) -> None:
    """Post the builds, one proposal, its remarks, the folios and a build of theirs.

    Raises: Trouble if a step is refused.
    """
    for who, name in BUILDS:
        await _build(world, who, name)
    proposer = world.member("tiva")
    preview = await world.slash(
        proposer,
        "propose change",
        {
            "build": "Breakwater Sergeant",
            "level": "9",
            "remove": "+2 Con",
            "add": "+2 Str",
            "reason": "Hit harder on the mole.",
        },
    )
    posted = await _press(world, "tiva", world.messages_of(preview), "Post")
    card = world.message((await world.live_places())[-1].message)
    for who, text in REMARKS:
        await _remark(world, who, card, text)
    if not posted:
        raise Trouble("the room's first proposal could not be posted")
    for name in FOLIOS:
        await world.slash(world.member("maren"), "content add", {"file": folio_file(name)})
    for who, name in WITH_FOLIOS:
        await _build(world, who, name)


async def _build(world: World, who: str, name: str) -> None:
    actor = world.member(who)
    outline = (FOLDER / f"{name}.outline").read_bytes()
    await world.slash(actor, "build load", {"file": (f"{name}.outline", outline)})
    title = outline.decode().splitlines()[0].removeprefix("Build:").strip()
    await world.slash(actor, "build share", {"build": title})


def folio_file(name: str) -> tuple[str, bytes]:
    """Return a folio of the room as a member attaches it: its file, or its folder as a zip, the same on every run."""
    place = FOLDER / "folios" / name
    if place.is_file():
        return name, place.read_bytes()
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as archive:
        for path in sorted(place.rglob("*.yaml")):
            archive.writestr(zipfile.ZipInfo(path.relative_to(place.parent).as_posix()), path.read_bytes())
    return f"{name}.zip", made.getvalue()


async def _press(world: World, who: str, messages: list[Any], label: str) -> bool:
    for message in messages:
        for button in world.text_of(message).buttons:
            if button.label == label and button.custom_id:
                result = await world.click(world.member(who), message, button.custom_id)
                return bool(result.acknowledged)
    return False


async def _remark(world: World, who: str, card: Any, text: str) -> None:
    for button in world.text_of(card).buttons:
        if button.label == "Remark" and button.custom_id:
            actor = world.member(who)
            form = await world.click(actor, card, button.custom_id)
            if form.modal is None:
                raise Trouble("the form for a remark did not open")
            field = form.modal["components"][0]["component"]["custom_id"]
            await world.submit(actor, form, {field: text})
            return
    raise Trouble("the proposal's card has no button for remarks")
