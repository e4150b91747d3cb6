"""The `/odds` commands. Each declares its options; what they mean is read from them in `asking`."""

from collections.abc import Callable
from inspect import signature
from typing import TYPE_CHECKING, Any, Literal, TypeVar

import discord
from discord import app_commands

from bot.exts.odds import complete
from bot.exts.odds.asking import answer_odds, asked_by, compared_by
from bot.ui.answer import refuse
from engine.odds.asked import Kind
from engine.problem import Refused

if TYPE_CHECKING:
    from bot.client import Bot

Level = app_commands.Range[int, 1, 20]
Edge = Literal["advantage", "disadvantage", "neither"]
Defense = Literal["resistance", "vulnerability", "immunity"]
_SAID = {
    "ac": "Armor class of the target",
    "advantage": "Advantage or disadvantage",
    "attack": "Attack of the build",
    "bonus": "Added to the die",
    "build": "Take numbers from this build",
    "creature": "Take the target from the rules",
    "damage": "Damage dice, such as 1d8+4",
    "dc": "Difficulty class",
    "defense": "How the target takes the damage",
    "level": "Level of the build; its last if left out",
    "lowest": "Faces below this count as it",
    "minus": "Dice taken off, such as 1d4",
    "picture": "Draw a picture as well",
    "plus": "Dice added, such as 1d4",
    "skill": "Skill, save, check or tool of the build",
    "slot": "Level of the slot",
    "while": "States switched on, such as Bless",
}


F = TypeVar("F", bound=Callable[..., Any])


def _says(**more: str) -> Callable[[F], F]:
    """Describe the options that a command has, in the words that all commands share, or in others."""

    def describe(function: F) -> F:
        names = list(signature(function).parameters)[2:]
        texts = {name: more.get(name) or _SAID[name.removesuffix("_")] for name in names}
        described = app_commands.describe(**texts)(function)
        return app_commands.rename(while_="while")(described) if "while_" in names else described

    return describe


class OddsCommands(app_commands.Group):
    """The `/odds` commands."""

    def __init__(self) -> None:
        super().__init__(name="odds", description="Exact chances, from plain numbers or from a build")

    @app_commands.command(name="check", description="Chance that a check or save reaches a DC")
    @_says(creature="Its passive Perception is the DC")
    @app_commands.autocomplete(
        build=complete.builds, skill=complete.skills, creature=complete.creatures, while_=complete.states
    )
    async def check(
        self,
        interaction: "discord.Interaction[Bot]",
        dc: int | None = None,
        bonus: int | None = None,
        build: str | None = None,
        level: Level | None = None,
        skill: str | None = None,
        advantage: Edge | None = None,
        lowest: app_commands.Range[int, 1, 20] | None = None,
        plus: str | None = None,
        minus: str | None = None,
        while_: str | None = None,
        creature: str | None = None,
        picture: bool = False,
    ) -> None:
        """Answer a check."""
        await _ask(interaction, "check", picture="chance" if picture else None)

    @app_commands.command(name="attack", description="Hits, criticals and damage against an armor class")
    @_says(
        attacks="Attacks a round",
        critical_from="Lowest face that is a critical",
        critical_dice="More dice on a critical",
        once_per_turn="Dice once a turn, such as 3d6",
        pool="Dice or name of a pool spent on hits",
        pool_per_round="Uses of the pool a round",
        slot="Level of the slots that the pool spends",
        hit_points="Hit points to bring down",
        rounds="For how many rounds",
        picture="Draw damage, or chances by armor class",
    )
    @app_commands.autocomplete(
        build=complete.builds, attack=complete.attacks, creature=complete.creatures, while_=complete.states
    )
    async def attack(
        self,
        interaction: "discord.Interaction[Bot]",
        ac: int | None = None,
        bonus: int | None = None,
        damage: str | None = None,
        build: str | None = None,
        level: Level | None = None,
        attack: str | None = None,
        creature: str | None = None,
        attacks: int | None = None,
        advantage: Edge | None = None,
        critical_from: int | None = None,
        critical_dice: str | None = None,
        once_per_turn: str | None = None,
        pool: str | None = None,
        pool_per_round: int | None = None,
        slot: int | None = None,
        defense: Defense | None = None,
        hit_points: int | None = None,
        rounds: int | None = None,
        plus: str | None = None,
        minus: str | None = None,
        while_: str | None = None,
        picture: Literal["damage", "armor class"] | None = None,
    ) -> None:
        """Answer an attack."""
        await _ask(interaction, "attack", picture=picture)

    @app_commands.command(name="save", description="Who fails a saving throw, and the damage")
    @_says(
        dc="Save DC",
        damage="Damage of a failed save, such as 8d6",
        half="Half damage on a save",
        targets="How many save",
        spell="Spell that the build casts",
        save="Saving throw of the build, such as Dex",
        ability="Ability with which the creature saves",
    )
    @app_commands.autocomplete(
        build=complete.builds, spell=complete.spells, creature=complete.creatures, while_=complete.states
    )
    async def save(
        self,
        interaction: "discord.Interaction[Bot]",
        dc: int | None = None,
        bonus: int | None = None,
        damage: str | None = None,
        half: bool | None = None,
        targets: int | None = None,
        build: str | None = None,
        level: Level | None = None,
        spell: str | None = None,
        slot: int | None = None,
        save: str | None = None,
        creature: str | None = None,
        ability: str | None = None,
        advantage: Edge | None = None,
        lowest: int | None = None,
        plus: str | None = None,
        minus: str | None = None,
        defense: Defense | None = None,
        while_: str | None = None,
        picture: bool = False,
    ) -> None:
        """Answer a saving throw."""
        await _ask(interaction, "save", picture="damage" if picture else None)

    @app_commands.command(name="contest", description="Who wins a contest of two rolls")
    @_says(
        other_bonus="Bonus of the other side",
        other_advantage="Advantage of the other side",
        other_lowest="Lowest face of the other side",
        other_plus="Dice the other side adds",
        other_minus="Dice taken off the other side",
        ties="Who wins a tie",
        creature="The other side",
        versus="Skill or ability of the creature",
    )
    @app_commands.autocomplete(
        build=complete.builds, skill=complete.skills, creature=complete.creatures, while_=complete.states
    )
    async def contest(
        self,
        interaction: "discord.Interaction[Bot]",
        bonus: int | None = None,
        other_bonus: int | None = None,
        build: str | None = None,
        level: Level | None = None,
        skill: str | None = None,
        creature: str | None = None,
        versus: str | None = None,
        advantage: Edge | None = None,
        other_advantage: Edge | None = None,
        lowest: int | None = None,
        other_lowest: int | None = None,
        plus: str | None = None,
        other_plus: str | None = None,
        minus: str | None = None,
        other_minus: str | None = None,
        ties: Literal["nobody", "active", "other"] | None = None,
        while_: str | None = None,
    ) -> None:
        """Answer a contest."""
        await _ask(interaction, "contest")

    @app_commands.command(name="group", description="Chance that half of a group succeeds")
    @_says(
        members="Bonuses: 5, 3 with advantage, -1",
        needed="How many must succeed; half if left out",
        skill="Skill or save of the builds",
        creature="Its passive Perception is the DC",
        build="A build that takes part",
        build_2="Another build",
        build_3="Another build",
        build_4="Another build",
        build_5="Another build",
        level="Level of the builds; their last if left out",
    )
    @app_commands.autocomplete(
        build=complete.builds,
        build_2=complete.builds,
        build_3=complete.builds,
        build_4=complete.builds,
        build_5=complete.builds,
        skill=complete.skills,
        creature=complete.creatures,
        while_=complete.states,
    )
    async def group(
        self,
        interaction: "discord.Interaction[Bot]",
        dc: int | None = None,
        members: str | None = None,
        needed: int | None = None,
        skill: str | None = None,
        build: str | None = None,
        build_2: str | None = None,
        build_3: str | None = None,
        build_4: str | None = None,
        build_5: str | None = None,
        level: Level | None = None,
        creature: str | None = None,
        while_: str | None = None,
    ) -> None:
        """Answer a group check."""
        await _ask(interaction, "group")

    @app_commands.command(name="fell", description="How many creatures a total of hit points lays low")
    @_says(
        dice="Dice of the total, such as 5d8",
        spell="Spell that has them, such as Sleep",
        slot="Level of its slot",
        creatures="Hit points: crab 2, crab 2, ogre 59",
        creature="From the rules: 3 goblin, ogre",
        build="Casts the spell; without one it stands among them",
    )
    @app_commands.autocomplete(build=complete.builds, spell=complete.pools, creature=complete.creatures)
    async def fell(
        self,
        interaction: "discord.Interaction[Bot]",
        dice: str | None = None,
        spell: str | None = None,
        slot: int | None = None,
        creatures: str | None = None,
        creature: str | None = None,
        build: str | None = None,
        level: Level | None = None,
        picture: bool = False,
    ) -> None:
        """Answer how many fall."""
        await _ask(interaction, "fell", picture="chance" if picture else None)

    @app_commands.command(name="concentration", description="Chance to hold concentration through hits")
    @_says(hits="Damage: 22, 9, or 3 hits of 2d6+3", creature="Its Constitution save")
    @app_commands.autocomplete(build=complete.builds, creature=complete.creatures, while_=complete.states)
    async def concentration(
        self,
        interaction: "discord.Interaction[Bot]",
        hits: str,
        bonus: int | None = None,
        build: str | None = None,
        level: Level | None = None,
        creature: str | None = None,
        advantage: Edge | None = None,
        lowest: int | None = None,
        plus: str | None = None,
        minus: str | None = None,
        while_: str | None = None,
        picture: bool = False,
    ) -> None:
        """Answer concentration."""
        await _ask(interaction, "concentration", picture="chance" if picture else None)

    @app_commands.command(name="death", description="Death saving throws: chance to live")
    @_says(
        successes="Successes made already",
        failures="Failures made already",
        hit="Damage of a hit that comes first",
        hit_points="Hit points left; all if left out",
        temporary="Temporary hit points",
        maximum="Hit point maximum, if there is no build",
    )
    @app_commands.autocomplete(build=complete.builds, while_=complete.states)
    async def death(
        self,
        interaction: "discord.Interaction[Bot]",
        bonus: int | None = None,
        advantage: Edge | None = None,
        plus: str | None = None,
        minus: str | None = None,
        successes: app_commands.Range[int, 0, 2] | None = None,
        failures: app_commands.Range[int, 0, 2] | None = None,
        hit: str | None = None,
        hit_points: int | None = None,
        temporary: int | None = None,
        maximum: int | None = None,
        build: str | None = None,
        level: Level | None = None,
        while_: str | None = None,
        picture: bool = False,
    ) -> None:
        """Answer the death saves."""
        await _ask(interaction, "death", picture="chance" if picture else None)

    @app_commands.command(name="scores", description="Chance that rolled scores meet minimums")
    @_says(
        needs="Minimums: dex 13, wis 13",
        method="Dice of one score; 4d6 drop lowest if left out",
        count="How many scores; 6 if left out",
        build="Take the minimums of its classes",
    )
    @app_commands.autocomplete(build=complete.builds)
    async def scores(
        self,
        interaction: "discord.Interaction[Bot]",
        needs: str | None = None,
        method: str | None = None,
        count: int | None = None,
        build: str | None = None,
        level: Level | None = None,
        picture: bool = False,
    ) -> None:
        """Answer the scores."""
        await _ask(interaction, "scores", picture="chance" if picture else None)

    @app_commands.command(name="dice", description="Mean, deviation and chances of any dice")
    @_says(dice="Such as 4d6 drop lowest or 2d6+3", at_least="Chance of this total or more")
    async def dice(
        self,
        interaction: "discord.Interaction[Bot]",
        dice: str,
        at_least: int | None = None,
        picture: bool = False,
    ) -> None:
        """Answer any dice."""
        await _ask(interaction, "dice", picture="chance" if picture else None)

    @app_commands.command(name="compare", description="Two to four questions side by side")
    @_says(
        first="Such as: Rapier = attack bonus 7 ac 15 damage 1d8+4",
        second="Such as: check build:#3 level:8 skill:Stealth dc:15",
        third="One more question",
        fourth="One more question",
    )
    async def compare(
        self,
        interaction: "discord.Interaction[Bot]",
        first: str,
        second: str,
        third: str | None = None,
        fourth: str | None = None,
        picture: bool = False,
    ) -> None:
        """Answer several questions."""
        asked = compared_by([text for text in (first, second, third, fourth) if text is not None])
        if isinstance(asked, Refused):
            await refuse(interaction, asked)
            return
        await answer_odds(interaction, asked, picture="chance" if picture else None)


async def _ask(interaction: "discord.Interaction[Bot]", kind: Kind, picture: str | None = None) -> None:
    """Answer the question that the options of the running command put."""
    # The namespace answers every attribute, `keys` too, so it cannot be made a dictionary directly.
    options = dict(iter(interaction.namespace))
    await answer_odds(interaction, [asked_by(kind, options)], picture=picture)
