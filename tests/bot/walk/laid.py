"""A server on which every command and every button has something to act on, laid out by commands alone."""

from dataclasses import dataclass, field
from typing import Any

import discord
from simcord.results import InteractionResult

from tests.bot.conftest import WARDEN, Moot
from tests.bot.content.test_content import KEEPER, SECOND, TIDES
from tests.bot.test_main_job import rows

DIVER = "Build: Kelp Diver\n1-2 Wizard\n"
BELL = "Build: Sunken Bell\n1-2 Wizard\n"
ANCHOR = "Build: Old Anchor\n1-2 Fighter\n"
RUNNER = "Build: Salt Runner\nScores: Str 8, Dex 15, Con 13, Int 10, Wis 14, Cha 12 (manual)\n1-8 Rogue\n"
NETS = TIDES.replace("tide-guild", "drift-nets").replace("Tide Guild", "Drift Nets").replace("ea-legs", "ea-nets")
# No answer on another server may hold any of these.
NAMES = ("Reed Warden", "Kelp Diver", "Sunken Bell", "Old Anchor", "Salt Runner", "Marsh Table", "Ferry Table")
NAMES += ("Mole Keeper", "Tide Guild", "Drift Nets")
# What of an id says which of a button's kinds it is.
WORDS = {
    "<",
    ">",
    "for",
    "against",
    "abstain",
    "adopt",
    "decline",
    "withdraw",
    "join",
    "leave",
    "rules",
    "roster",
    "stay",
    "go",
}


@dataclass
class Laid:
    """What stands there. Numbers are those that members say aloud; every thing is named below by its number."""

    moot: Moot
    buttons: dict[str, list[tuple[discord.Message, str]]] = field(default_factory=dict)

    def note(self, message: discord.Message) -> None:
        """Remember every button of a message under its id without the numbers."""
        for button in self.moot.shown(message).buttons:
            if button.custom_id is not None:
                self.buttons.setdefault(shape(button.custom_id), []).append((message, button.custom_id))

    async def say(self, who: str, command: str, /, *texts: Any, **options: Any) -> InteractionResult:
        """Run a command, fill in the form if one opens, and remember the buttons of what it answered."""
        result = await self.moot.say(who, command, **options)
        if result.modal is not None:
            result = await self.moot.send(who, result, *texts)
        for message in self.moot.messages(result):
            self.note(message)
        return result

    async def propose(self, who: str, remove: str, add: str, build: str = "#1", level: int = 8) -> None:
        """Propose a change to a level and post it."""
        preview = await self.say(
            who, "propose change", build=build, level=level, remove=remove, add=add, reason="Hit more."
        )
        await self.moot.press(who, self.moot.messages(preview)[0], "Post")

    def button(self, kind: str, on: int | None) -> tuple[discord.Message, str]:
        """Return a button that acts on a number, or the newest of its kind."""
        for message, custom_id in reversed(self.buttons[kind]):
            standing = [button.custom_id for button in self.moot.shown(message).buttons]
            if custom_id in standing and (on is None or custom_id.split(":")[2] == str(on)):
                return message, custom_id
        raise LookupError(f"no button {kind} stands anywhere")

    def cards(self) -> None:
        """Remember the buttons of every card that stands in a channel."""
        from simcord.results import to_discord_message

        env = self.moot.env
        for channel, message in rows(self.moot, "select channel, message from cards"):
            self.note(to_discord_message(env, env.backend.get_message(channel, message)))


def shape(custom_id: str) -> str:
    """Return an id without what numbers and keys it holds: what is pressed, not on what."""
    _, first, *rest = custom_id.split(":")
    return " ".join([first, *(part for part in rest if part in WORDS)])


async def laid(moot: Moot) -> Laid:
    """Lay everything out.

    #1 Reed Warden, Tiva's; #2 Kelp Diver, Tiva's, unfinished; #3 Sunken Bell, Tiva's draft; #4 Old Anchor, Tiva's,
    retired; #5 the Marsh Table, Maren's, level 8, Tiva plays there; #6 Salt Runner, Tiva's; #7 that, submitted;
    #8 proposal to #1 by Oskar, and #9 another; #10 proposal by Oskar, outdated; #11 scores rolled by Sela;
    #12 the Ferry Table, Maren's; #13 Mole Keeper, Tiva's, by an earlier version of the folio Tide Guild. The folio
    Drift Nets was taken away. Remark 1 is Sela's, on #1. Wren has done nothing yet and holds no role.
    """
    here = Laid(moot)
    for text in (WARDEN, DIVER):
        await here.say("tiva", "build load", file=("b.txt", text.encode()))
    await here.say("tiva", "build load", file=("b.txt", BELL.encode()))
    await here.say("tiva", "build load", file=("b.txt", ANCHOR.encode()))
    for number in (1, 2, 4):
        await here.say("tiva", "build share", build=f"#{number}")
    await here.say("tiva", "build retire", build="#4")
    await here.say("maren", "table new", name="Marsh Table", level=8)
    await here.say("tiva", "table join", table="#5")
    await here.say("tiva", "build load", file=("b.txt", RUNNER.encode()))
    await here.say("tiva", "build share", build="#6")
    await here.say("tiva", "table submit", build="#6", table="#5")
    await here.propose("oskar", "+2 Wis", "+2 Dex")
    await here.propose("oskar", "+2 Wis", "+2 Con")
    preview = await here.say("oskar", "propose text", "2 Wizard hp 4", "Less luck.", build="#2", level=2)
    await moot.press("oskar", moot.messages(preview)[0], "Post")
    await here.say("tiva", "build edit", "2 Wizard hp 5", "Rolled.", build="#2", level=2)
    await here.say("sela", "roll scores")
    await here.say("maren", "table new", name="Ferry Table", level=1)
    await here.say("sela", "remark add", on="#1", text="Who needs that much?")
    await here.say("tiva", "writeup draft", build="#1")
    await here.say("tiva", "build load", "Build: Broken", "1 Rogu")
    await here.say("tiva", "build audit", build="#2")
    await here.say("oskar", "build audit", build="#2")
    await here.say("oskar", "proposal amend", "8 Ranger hp 7: +1 Wis, +1 Con", "Hit more.", proposal="#9")
    await here.say("oskar", "propose change", build="#1", level=8, remove="+2 Wis", add="+2 Str", reason="Lift more.")
    await here.say("oskar", "build show", build="#1", level=4)
    for text in (TIDES, NETS):
        await here.say("maren", "content add", file=("folio.yaml", text.encode()))
    await here.say("maren", "content remove", folio="drift-nets")
    await here.say("tiva", "build load", file=("b.txt", KEEPER.encode()))
    await here.say("tiva", "build share", build="#13")
    await here.say("maren", "content add", file=("folio.yaml", SECOND.encode()))
    await here.say("maren", "table rules", table="#5")
    await here.say("maren", "table roster", table="#5")
    await here.say("tiva", "privacy erase", builds="stay")
    await here.say("sela", "privacy erase", builds="go")
    here.cards()
    return here
