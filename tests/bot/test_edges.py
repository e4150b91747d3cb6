"""The edges of the front: errors of commands, log lines, settings."""

import logging
from types import SimpleNamespace
from typing import Any

import discord
import pytest
from discord import app_commands

from bot.app import create_bot
from bot.log import WhereFilter, bound, log_fault, set_up
from bot.room.render import plain as rendered
from bot.settings import Settings, library_clock
from bot.ui.answer import refuse
from bot.ui.escape import ZERO_WIDTH
from bot.ui.guarded import Guarded, GuardedModal
from engine.problem import Refused

UNREADABLE: Any = SimpleNamespace(_error_display_name="level")


class Heard:
    """An interaction that notes what it is answered."""

    def __init__(self, guild: int | None = 1) -> None:
        self.sentences: list[str] = []
        self.guild_id = guild
        self.id = 9
        self.command = None
        self.type = discord.InteractionType.component
        self.response = SimpleNamespace(is_done=lambda: False, send_message=self._send)

    async def _send(self, content: str, **options: Any) -> None:
        assert options["ephemeral"]
        assert options["allowed_mentions"].to_dict() == {"parse": []}
        self.sentences.append(content)


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (app_commands.MissingPermissions(["manage_guild"]), "You need the permission manage guild"),
        (app_commands.BotMissingPermissions(["send_messages"]), "I need the permission send messages"),
        (
            app_commands.TransformerError("x", discord.AppCommandOptionType.string, UNREADABLE),
            "could not be read",
        ),
        (app_commands.AppCommandError("a bug"), "report reference"),
    ],
)
async def test_each_command_error_is_answered_once(error: app_commands.AppCommandError, words: str) -> None:
    heard: Any = Heard()
    await create_bot(Settings()).tree.on_error(heard, error)
    (sentence,) = heard.sentences
    assert words in sentence


async def test_a_button_outside_servers_and_one_without_a_press(caplog: pytest.LogCaptureFixture) -> None:
    class Bare(Guarded):
        pass

    outside: Any = Heard(guild=None)
    await Bare().callback(outside)
    assert outside.sentences == ["This works only on a server."]
    heard: Any = Heard()
    await Bare().callback(heard)
    assert "report reference" in heard.sentences[0]
    form: Any = Heard()
    await GuardedModal("x" * 60).on_submit(form)
    assert "report reference" in form.sentences[0]
    assert sum(r.levelno == logging.ERROR for r in caplog.records) == 2


def test_log_lines_carry_the_place_and_a_reference(caplog: pytest.LogCaptureFixture) -> None:
    heard: Any = Heard()
    record = logging.LogRecord("x", logging.INFO, "x", 1, "m", None, None)
    with bound(heard):
        assert WhereFilter().filter(record)
    assert record.__dict__["where"] == "1:component:9"
    reference = log_fault(RuntimeError("x"))
    assert f"fault {reference}" in caplog.text


def test_set_up_sends_lines_with_their_place() -> None:
    before = logging.root.handlers[:], logging.root.level
    try:
        set_up()
        (handler,) = logging.root.handlers
        assert any(isinstance(f, WhereFilter) for f in handler.filters)
    finally:
        logging.root.handlers[:], logging.root.level = before[0], before[1]


def test_settings_come_from_the_environment_and_hide_the_token(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BUILDMOOT_TOKEN", "secret-token")
    monkeypatch.setenv("BUILDMOOT_SHARDS", "3")
    settings = Settings()
    assert settings.shards == 3
    assert settings.token is not None
    assert settings.token.get_secret_value() == "secret-token"
    assert "secret-token" not in repr(settings)
    assert library_clock().tzinfo is not None


def test_run_refuses_without_a_token_and_starts_with_one(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from bot.cli import main
    from bot.client import Bot

    monkeypatch.delenv("BUILDMOOT_TOKEN", raising=False)
    assert main(["run"]) == 2
    assert "BUILDMOOT_TOKEN" in capsys.readouterr().err
    started: list[str] = []
    monkeypatch.setenv("BUILDMOOT_TOKEN", "secret-token")
    monkeypatch.setattr(Bot, "run", lambda self, token, **options: started.append(token))
    monkeypatch.setattr("bot.log.set_up", lambda: None)
    monkeypatch.setattr("bot.filecommands.run.set_up", lambda: None)
    assert main(["run"]) == 0
    assert started == ["secret-token"]


def test_migrate_makes_the_schema(tmp_path: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    import sqlite3

    from bot.cli import main

    file = tmp_path / "deep" / "new.db"
    monkeypatch.setenv("BUILDMOOT_DATABASE_URL", f"sqlite+aiosqlite:///{file}")
    assert main(["migrate"]) == 0
    with sqlite3.connect(file) as link:
        tables = {name for (name,) in link.execute("select name from sqlite_master where type = 'table'")}
    assert {"builds", "revisions", "proposals", "votes", "history", "alembic_version"} <= tables


async def test_what_was_typed_is_text_in_a_refusal_too() -> None:
    heard: Any = Heard()
    typed = 'There is no build "**@everyone** `x` [y](https://example.org)" here.'
    await refuse(heard, Refused("no-such-build", typed))
    (sentence,) = heard.sentences
    assert "@everyone" not in sentence
    assert "https://" not in sentence
    assert rendered(sentence).replace(ZERO_WIDTH, "") == typed
