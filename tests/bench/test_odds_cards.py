"""What a card of odds costs, held against a bare reply of the chat library in the same run."""

import time
from pathlib import Path
from statistics import median
from typing import Any

import discord
import simcord
from discord import app_commands, ui

from bot.app import create_bot
from bot.settings import Settings

ROUNDS = 25


async def test_a_card_costs_little_more_than_a_bare_reply(tmp_path: Path) -> None:
    """At most 1.3 times: the same texts in the same components, sent by a command that works nothing out.

    Both go through the simulator turn by turn, so that a busy machine slows both; the bare one has the same options.
    """
    bot = create_bot(Settings(database_url=f"sqlite+aiosqlite:///{tmp_path / 'moot.db'}"))
    texts: list[str] = []

    @app_commands.command(name="bare", description="Says what it was told to say")
    async def bare(interaction: discord.Interaction[Any], bonus: int, dc: int) -> None:
        children: list[ui.Item[Any]] = []
        for place, text in enumerate(texts):
            if place:
                children.append(ui.Separator(visible=place == 1))
            children.append(ui.TextDisplay(text))
        view = ui.LayoutView(timeout=None)
        view.add_item(ui.Container(*children))
        await interaction.response.send_message(view=view, allowed_mentions=discord.AllowedMentions.none())

    bot.tree.add_command(bare)
    env = simcord.Env(bot, settle_timeout=30.0)
    await env.start()
    try:
        guild = env.create_guild("Lantern Coast Cartographers")
        channel = guild.create_text_channel("build-moot")
        member = guild.add_member(env.create_user("tiva"))

        async def timed(command: str, bonus: int) -> tuple[float, list[str]]:
            begun = time.perf_counter()
            result = await member.slash(channel, command, bonus=bonus, dc=15)
            took = time.perf_counter() - begun
            assert result.response is not None
            stored = env.backend.get_message(channel.id, result.response.message.id)
            [container] = stored.components
            return took, [part["content"] for part in container["components"] if part["type"] == 10]

        _, texts[:] = await timed("odds check", 0)
        assert texts[0].startswith("### 30 % to reach DC 15")
        times: dict[str, list[float]] = {"odds check": [], "bare": []}
        for turn in range(ROUNDS):
            # Another bonus each time, so that no answer can be a remembered one.
            for command, taken in times.items():
                took, said = await timed(command, turn % 10)
                taken.append(took)
                if command == "odds check":
                    texts[:] = said
                assert said == texts
                assert said[0].startswith(f"### {(6 + turn % 10) * 5} % to reach DC 15")
    finally:
        await env.shutdown()
        await bot.release()
    ratio = median(times["odds check"]) / median(times["bare"])
    print(f"card of odds / bare reply: {ratio:.2f}")
    assert ratio <= 1.3
