"""Cards: what is kept, what is cut, what is escaped."""

from hypothesis import given
from hypothesis import strategies as st

from bot.room.render import plain as rendered
from bot.ui.card import MAX_TEXT, Card, CardView, block, fitted
from bot.ui.escape import label, paragraph, plain


def test_a_long_card_keeps_title_first_line_and_kept_blocks_and_counts_what_it_left_out() -> None:
    many = block(*(f"line {n} " + "x" * 90 for n in range(100)))
    texts = fitted(Card("Title", "the answer", (many, block("tally", keep=True))))
    assert texts[0] == "### Title\nthe answer"
    assert texts[-1] == "tally"
    shown = sum(t.count("line ") for t in texts)
    assert f"-# and {100 - shown} more" in texts
    assert sum(map(len, texts)) <= 4000


@given(
    st.text(max_size=300),
    st.lists(st.lists(st.text(min_size=1, max_size=400), max_size=30), max_size=8),
    st.text(max_size=300),
)
def test_no_card_is_longer_than_the_platform_allows(title: str, blocks: list[list[str]], kept: str) -> None:
    card = Card(title, "first", (*(block(*b) for b in blocks), block(kept, keep=True)))
    view = CardView(card)
    assert view.content_length() <= 4000
    assert sum(map(len, fitted(card))) <= MAX_TEXT + 100


@given(st.text(alphabet="ab@*_`|>#[]()<~\\-+1. :/", max_size=80))
def test_what_members_typed_is_shown_as_the_text_it_is(text: str) -> None:
    assert rendered(plain(text)) == " ".join(text.split())


def test_nothing_typed_pings_links_or_formats() -> None:
    shown = plain("@everyone <@1> [x](https://example.org) `code` ||secret|| # head")
    assert "@everyone" not in shown
    assert "<@1>" not in shown.replace("\\<", "")
    assert "https://" not in shown
    assert "`code`" not in shown
    assert paragraph("- item\n> quote").splitlines() == ["\\- item", "\\> quote"]


def test_labels_are_cut_to_the_platforms_length() -> None:
    assert label("x" * 200, 100) == "x" * 99 + "…"
    assert label("  a \n b ") == "a b"
