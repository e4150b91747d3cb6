"""The platform's limits: every command, every button id, every payload."""

import re
from collections.abc import Iterator
from typing import Any

import discord
import pytest

from bot.app import create_bot
from bot.exts import AREAS
from bot.settings import Settings
from tests.bot.conftest import Moot
from tests.bot.platform import complaints
from tests.bot.test_main_job import proposed

# Limits: the platform's documentation, Application Commands (names, options, nesting, 8,000 characters).
NAME = re.compile(r"^[-_'\w]{1,32}$")


def commands() -> list[dict[str, Any]]:
    """Return the payloads of all commands."""
    tree = create_bot(Settings()).tree
    return [dict(command.to_dict(tree)) for command in tree.get_commands()]


def nodes(node: dict[str, Any]) -> Iterator[dict[str, Any]]:
    """Yield a command and everything inside it."""
    yield node
    for inner in node.get("options") or []:
        yield from nodes(inner)


def size(node: dict[str, Any]) -> int:
    """Return what a command counts against the platform's 8,000 characters."""
    own = len(node["name"]) + len(node.get("description", ""))
    choices = sum(len(c["name"]) + len(str(c["value"])) for c in node.get("choices") or [])
    return own + choices + sum(size(inner) for inner in node.get("options") or [])


def test_every_command_keeps_the_limits() -> None:
    payloads = commands()
    assert len(AREAS) <= len(payloads) <= 100
    assert len({p["name"] for p in payloads}) == len(payloads)
    for payload in payloads:
        assert size(payload) <= 8000, payload["name"]
        for node in nodes(payload):
            assert NAME.match(node["name"]), node["name"]
            assert node["name"] == node["name"].lower()
            assert 1 <= len(node["description"]) <= 100, (payload["name"], node["name"])
            options = node.get("options") or []
            assert len(options) <= 25, (payload["name"], node["name"])
            assert len({o["name"] for o in options}) == len(options)
            required = [bool(o.get("required")) for o in options if o["type"] > 2]
            assert required == sorted(required, reverse=True), "required options come first"
            assert len(node.get("choices") or []) <= 25
            assert not node.get("choices") or not node.get("autocomplete")


def test_every_name_of_content_is_autocompleted() -> None:
    free_text = {"reason", "title", "text"}
    named = {"build", "proposal", "other", "number", "class", "remove", "add", "skill", "table", "folio", "version"}
    for payload in commands():
        for node in nodes(payload):
            if node["type"] == 3 and node["name"] in named - free_text and not node.get("choices"):
                assert node.get("autocomplete"), (payload["name"], node["name"])


def test_the_bot_asks_for_no_privileged_intent() -> None:
    intents = create_bot(Settings()).intents
    assert intents == discord.Intents(guilds=True)
    assert not intents.members
    assert not intents.presences
    assert not intents.message_content


@pytest.mark.parametrize("area", ["builds", "content", "proposals", "privacy", "table", "weigh"])
def test_every_button_id_is_read_back_by_its_own_pattern(area: str) -> None:
    from importlib import import_module

    buttons = import_module(f"bot.exts.{area}.buttons").BUTTONS
    patterns = [button.__discord_ui_compiled_template__ for button in buttons]
    assert len({p.pattern for p in patterns}) == len(patterns)
    for custom_id in PINNED[area]:
        hits = [p for p in patterns if p.fullmatch(custom_id)]
        assert len(hits) == 1, custom_id
        assert len(custom_id) <= 100


# Ids of cards that stand in channels: they must be understood as long as their messages live.
PINNED = {
    "privacy": ["v1:erase:1456074443980800020:stay", "v1:erase:1456074443980800020:go"],
    "builds": [
        "v1:level:3:8:<",
        "v1:level:3:8:>",
        "v1:outline:3",
        "v1:why:3:8",
        "v1:level:3:8:>:rage,exhaustion-3",
        "v1:why:3:8:mage-armor",
        "v1:again:17",
        "v1:mend:3:0a1b2c3d4e5f",
    ],
    "proposals": [
        "v1:vote:12:for",
        "v1:vote:12:against",
        "v1:vote:12:abstain",
        "v1:remark:12",
        "v1:details:12",
        "v1:decide:12:adopt",
        "v1:decide:12:decline",
        "v1:decide:12:withdraw",
        "v1:refresh:12",
        "v1:put:12:17",
        "v1:post:17",
    ],
    "content": ["v1:move:3:coast-pilots", "v1:move:3:tides-1.2"],
    "weigh": ["v1:curve:3"],
    "table": [
        "v1:approve:15:0a1b2c3d4e5f",
        "v1:return:15",
        "v1:waive:15",
        "v1:review:15",
        "v1:rules:4",
        "v1:table:4:join",
        "v1:table:4:leave",
        "v1:table:4:rules",
        "v1:table:4:roster",
    ],
}


async def test_everything_sent_in_the_main_job_fits_the_platforms_own_description(moot: Moot) -> None:
    await moot.warden()
    await moot.say("oskar", "build load")
    await moot.say("tiva", "build load", file=("x.txt", b"nonsense"))
    card = await proposed(moot)
    form = await moot.press("sela", card, "Remark")
    await moot.send("sela", form, "A word.")
    await moot.press("sela", card, "For")
    await moot.press("oskar", card, "Details")
    await moot.press("tiva", card, "Adopt")
    for command, options in (
        ("build show", {"build": "#1"}),
        ("build why", {"build": "#1", "level": 8, "number": "ac"}),
        ("build audit", {"build": "#1"}),
        ("build list", {}),
        ("build history", {"build": "#1"}),
        ("build compare", {"build": "#1"}),
        ("proposal list", {}),
        ("help", {}),
    ):
        await moot.say("sela", command, **options)
    assert complaints(moot.env.http_requests) == []


async def test_nothing_pings_but_a_notice_those_whom_it_concerns(moot: Moot) -> None:
    await moot.warden()
    card = await proposed(moot)
    await moot.press("sela", card, "For")
    await moot.press("tiva", card, "Adopt")
    notices: list[dict[str, Any]] = []
    for request in moot.env.http_requests:
        body = request.json
        if not isinstance(body, dict):
            continue
        data = body.get("data") if "/callback" in request.path else body
        if isinstance(data, dict) and ("components" in data or data.get("content")) and "custom_id" not in data:
            allowed = data.get("allowed_mentions")
            if "users" in (allowed or {}):
                notices.append(data)
                continue
            assert allowed == {"parse": []}, (request.method, request.path)
    # The author is told of the proposal, the proposer of its adoption, and nobody else of anything.
    people = [moot.people[name].id for name in ("tiva", "oskar")]
    assert [n["allowed_mentions"] for n in notices] == [{"parse": [], "users": [who]} for who in people]
    assert ["proposed" in n["content"] for n in notices] == [True, False]
