"""What is typed in the room."""

import pytest

from bot.room.lines import Order, Press, Say, Slash, parse_line
from bot.room.render import framed, plain, shown

COMMANDS = {
    "build show": [{"name": "build"}, {"name": "level"}],
    "build list": [],
    "propose change": [{"name": "build"}, {"name": "level"}, {"name": "remove"}, {"name": "add"}, {"name": "reason"}],
}


def test_options_end_where_the_next_known_one_begins() -> None:
    line = parse_line("@tiva /build show build:Reed Warden: of 9 level:8", COMMANDS)
    assert line.member == "tiva"
    assert line.act == Slash("build show", {"build": "Reed Warden: of 9", "level": "8"})


def test_values_keep_signs_and_words_with_colons() -> None:
    line = parse_line("/propose change build:#1 level:8 remove:+2 Wis add:+2 Dex reason:why: because", COMMANDS)
    assert isinstance(line.act, Slash)
    assert line.member is None
    assert line.act.options["reason"] == "why: because"
    assert line.act.options["remove"] == "+2 Wis"


@pytest.mark.parametrize(
    ("text", "act"),
    [
        ("press 3", Press(3)),
        ("@sela press 12", Press(12)),
        ("hello there", Say("hello there")),
        ("who", Order("who")),
        ("/build list", Slash("build list")),
        ("@sela", None),
        ("", None),
    ],
)
def test_other_lines(text: str, act: object) -> None:
    assert parse_line(text, COMMANDS).act == act


def test_a_wrong_command_names_the_nearest() -> None:
    assert "/build show" in (parse_line("/build shaw build:1", COMMANDS).trouble or "")
    assert "build:, level:" in (parse_line("/build show Reed Warden", COMMANDS).trouble or "")
    assert "none" in (parse_line("/build list x", COMMANDS).trouble or "")


def test_cards_become_text_with_numbered_buttons() -> None:
    card = [
        {
            "type": 17,
            "components": [
                {"type": 10, "content": "### Title \\*\n**bold** <@7> <t:0:R>"},
                {"type": 14},
                {"type": 10, "content": "-# small"},
                {"type": 12, "items": [{"description": "a curve"}, {}]},
                {"type": 13, "file": {"url": "https://x/y/build.txt?z"}},
                {"type": 9, "components": [{"type": 10, "content": "beside"}], "accessory": {"type": 2, "label": "A"}},
                {"type": 1, "components": [{"type": 2, "label": "For", "custom_id": "v"}, {"type": 3, "options": []}]},
                {"type": 14},
            ],
        }
    ]
    message = shown("said", card, {7: "Tiva"})
    assert message.lines[:3] == ("said", "Title *", "bold @Tiva 01 Jan 1970 00:00 UTC")
    assert "picture: a curve" in message.lines
    assert "picture: no description" in message.lines
    assert "file: build.txt" in message.lines
    assert [b.label for b in message.buttons] == ["A", "For"]
    text = framed("Buildmoot", message, 4)
    assert "[4 A]  [5 For]" in text
    assert plain("<@9>") == "@9"
