"""Cards of facts: what a thing of the rules is, its figures, and where it stands. Pure."""

from bot.ui.card import Card, block
from bot.ui.escape import plain
from engine.publish.facts import Facts
from engine.services.facts import FactView


def fact_card(view: FactView) -> Card:
    """Return the card of one thing of the rules. Its tables are monospaced and fit a phone."""
    facts: Facts = view.facts
    blocks = []
    for section in facts.sections:
        heading = f"**{plain(section.heading)}**" if section.heading else ""
        fenced = (f"```\n{table}\n```" for table in section.tables)
        blocks.append(block(heading, *(plain(line) for line in section.lines), *fenced))
    others = f"Of the same name: {plain(', '.join(view.others))}" if view.others else ""
    blocks.append(block(plain(facts.source), others, keep=True, small=True))
    return Card(f"{plain(facts.name)} · {plain(facts.kind)}", plain(facts.first), tuple(blocks))
