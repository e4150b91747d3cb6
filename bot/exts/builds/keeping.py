"""`/build`, the part about whose a build is and how it goes on; the commands are added to the group by commands.py."""

from typing import TYPE_CHECKING, Any, Final

import discord
from discord import app_commands

from bot.exts.builds import complete
from bot.ui.answer import answer, refuse
from bot.ui.escape import plain
from bot.ui.who import who
from engine.problem import Refused
from engine.services.ownership import (
    AddCoAuthor,
    BringBack,
    CopyBuild,
    DropCoAuthor,
    HandOver,
    RestoreRevision,
    RetireBuild,
    add_co_author,
    bring_back,
    copy_build,
    drop_co_author,
    hand_over,
    restore_revision,
    retire_build,
)

if TYPE_CHECKING:
    from bot.client import Bot
    from engine.services.views import BuildView

ReasonOption = app_commands.Range[str, 1, 300]


async def done(interaction: "discord.Interaction[Bot]", result: "BuildView | Refused", sentence: str) -> None:
    """Answer privately, then redraw what was touched and tell of it. `{name}` in the sentence is the build."""
    from bot.exts.proposals.notices import tell
    from bot.exts.proposals.posting import redraw_all

    assert interaction.guild_id is not None
    if isinstance(result, Refused):
        await refuse(interaction, result)
        return
    named = f"{plain(result.name)} (#{result.number})"
    await answer(interaction, sentence.replace("{name}", named).replace("{revision}", str(result.latest)))
    await redraw_all(interaction.client, interaction.guild_id, [result.number, *result.followed, *result.outdated])
    await tell(interaction.client, interaction.guild_id, result.notices, interaction)


@app_commands.command(name="restore", description="Make an earlier revision of your build the newest again")
@app_commands.describe(build="Your build", revision="Which revision", reason="What for, for the history")
@app_commands.autocomplete(build=complete.own_builds)
async def restore(
    interaction: "discord.Interaction[Bot]",
    build: str,
    revision: app_commands.Range[int, 1],
    reason: ReasonOption = "",
) -> None:
    """Restore a revision; it becomes a new one."""
    assert interaction.guild_id is not None
    command = RestoreRevision(
        server=interaction.guild_id,
        member=interaction.user.id,
        build=build,
        revision=revision,
        at=interaction.created_at,
        reason=reason,
    )
    result = await interaction.client.call(restore_revision, command)
    await done(interaction, result, f"Revision {revision} of {{name}} is back, as revision {{revision}}.")


@app_commands.command(name="retire", description="Set your build aside: it can be read, nothing about it changes")
@app_commands.describe(build="Your build", reason="Why, for the history")
@app_commands.autocomplete(build=complete.own_builds)
async def retire(interaction: "discord.Interaction[Bot]", build: str, reason: ReasonOption = "") -> None:
    """Retire one's own build."""
    assert interaction.guild_id is not None
    command = RetireBuild(
        server=interaction.guild_id, member=interaction.user.id, build=build, at=interaction.created_at, reason=reason
    )
    result = await interaction.client.call(retire_build, command)
    await done(interaction, result, "{name} is retired; /build back takes it up again.")


@app_commands.command(name="back", description="Take your retired build up again")
@app_commands.describe(build="Your build")
@app_commands.autocomplete(build=complete.own_builds)
async def back(interaction: "discord.Interaction[Bot]", build: str) -> None:
    """Bring one's own build back."""
    assert interaction.guild_id is not None
    command = BringBack(server=interaction.guild_id, member=interaction.user.id, build=build, at=interaction.created_at)
    await done(interaction, await interaction.client.call(bring_back, command), "{name} is back.")


@app_commands.command(name="co-author", description="Let another member edit your build and decide, or no longer")
@app_commands.describe(build="Your build", member="The other member", remove="Take them off instead")
@app_commands.autocomplete(build=complete.own_builds)
async def co_author(
    interaction: "discord.Interaction[Bot]", build: str, member: discord.User, remove: bool = False
) -> None:
    """Name a co-author, or take one off."""
    assert interaction.guild_id is not None
    server, own, at = interaction.guild_id, interaction.user.id, interaction.created_at
    if member.bot:
        await answer(interaction, "A bot cannot be a co-author; name a member.")
    elif remove:
        dropped = DropCoAuthor(server=server, member=own, build=build, other=member.id, at=at)
        result = await interaction.client.call(drop_co_author, dropped)
        await done(interaction, result, f"{who(member.id)} is no co-author of {{name}} any more.")
    else:
        added = AddCoAuthor(server=server, member=own, build=build, other=member.id, at=at)
        result = await interaction.client.call(add_co_author, added)
        await done(interaction, result, f"{who(member.id)} can edit {{name}} now and decide about proposals to it.")


@app_commands.command(name="hand-over", description="Make another member the author of your build")
@app_commands.describe(build="Your build", member="Who gets it")
@app_commands.autocomplete(build=complete.own_builds)
async def hand_over_(interaction: "discord.Interaction[Bot]", build: str, member: discord.User) -> None:
    """Hand one's own build over."""
    assert interaction.guild_id is not None
    if member.bot:
        await answer(interaction, "A bot cannot be the author of a build; name a member.")
        return
    command = HandOver(
        server=interaction.guild_id,
        member=interaction.user.id,
        build=build,
        other=member.id,
        at=interaction.created_at,
    )
    await done(interaction, await interaction.client.call(hand_over, command), f"{{name}} is {who(member.id)}'s now.")


@app_commands.command(name="copy", description="Make a draft of your own from a build; it names its origin")
@app_commands.describe(
    build="The build", name="What the copy is called", revision="Which revision; the newest if left out"
)
@app_commands.autocomplete(build=complete.builds)
async def copy(
    interaction: "discord.Interaction[Bot]",
    build: str,
    name: app_commands.Range[str, 1, 60],
    revision: app_commands.Range[int, 1] | None = None,
) -> None:
    """Copy a build."""
    assert interaction.guild_id is not None
    command = CopyBuild(
        server=interaction.guild_id,
        member=interaction.user.id,
        build=build,
        name=name,
        revision=revision,
        at=interaction.created_at,
    )
    result = await interaction.client.call(copy_build, command)
    await done(interaction, result, "{name} is your draft now; /build edit changes it, /build share shows it.")


@app_commands.command(name="remarks", description="What members remarked on a build")
@app_commands.describe(build="The build")
@app_commands.autocomplete(build=complete.builds)
async def remarks(interaction: "discord.Interaction[Bot]", build: str, page: app_commands.Range[int, 1] = 1) -> None:
    """List the remarks on a build, privately."""
    from bot.exts.remarks.commands import show_remarks

    await show_remarks(interaction, build, page)


KEEPING: Final[tuple[app_commands.Command[Any, Any, Any], ...]] = (
    restore,
    retire,
    back,
    co_author,
    hand_over_,
    copy,
    remarks,
)
