"""Cards of remarks. Pure."""

from bot.ui.card import Card, block
from bot.ui.escape import plain
from bot.ui.who import who
from engine.services.views import Page, RemarkView


def remarks_card(title: str, page: Page[RemarkView]) -> Card:
    """Return one page of remarks, newest first. title: what they are on."""
    if not page.items:
        return Card(f"Remarks on {title}", "Nobody has remarked on it yet; /remark add does.")
    more = ", more on the next" if page.more else ""
    lines = [line for remark in page.items for line in (_head(remark), plain(remark.text))]
    return Card(f"Remarks on {title}", f"Newest first; page {page.number}{more}", (block(*lines),))


def _head(remark: RemarkView) -> str:
    parts = [f"**remark {remark.id}** · {who(remark.author)}"]
    if remark.level:
        parts.append(f"level {remark.level}")
    if remark.number:
        parts.append(plain(remark.number))
    if remark.answers:
        parts.append(f"answers remark {remark.answers}")
    if remark.edited:
        parts.append(f"changed <t:{int(remark.edited.timestamp())}:R>")
    if remark.settled:
        parts.append("settled" + (f" by {who(remark.settled_by)}" if remark.settled_by else ""))
    return " · ".join([*parts, f"<t:{int(remark.at.timestamp())}:f>"])
