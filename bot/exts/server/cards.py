"""The card of a server's settings. Pure."""

from datetime import timedelta
from typing import Final

from bot.ui.card import Card, block
from engine.review.policy import Ballot, Decider, Policy, Voters, notice_before
from engine.services.policies import PolicyView

DECIDES: Final = {
    Decider.AUTHOR: "the author of the build (and co-authors)",
    Decider.VOTE: "the vote, at the deadline",
    Decider.GM: "the game master of the build's table; where there is none, whoever manages the server",
}


def policy_card(view: PolicyView) -> Card:
    """Return how proposals are decided and where their cards go."""
    policy = view.policy
    place = f"in <#{view.place}>" if view.place else "where the command is given"
    return Card(
        "How proposals are decided here",
        f"**Decides** {DECIDES[policy.decider]}",
        (
            block(
                f"**Votes** {_voters(policy)}",
                f"**Quorum** {policy.quorum or 'none'} · **won with** {policy.share} % of the votes for and against",
                f"**Open for** {_window(policy.window)}",
                f"**Ballot** {'everybody sees who voted what' if policy.ballot is Ballot.OPEN else 'secret'}",
                f"**Cards** {place}",
            ),
            block("Proposals that are open keep the rules they were opened under.", small=True),
        ),
    )


def _voters(policy: Policy) -> str:
    words = {
        Voters.EVERYONE: "every member",
        Voters.ROLE: f"members with <@&{policy.role}>",
        Voters.TABLE: "those at the build's table; every member where it is at none",
    }[policy.voters]
    without = []
    if not policy.author_votes:
        without.append("the author of the build")
    if not policy.proposer_votes:
        without.append("the proposer")
    return words + (f", without {' and '.join(without)}" if without else "")


def _window(window: timedelta | None) -> str:
    if window is None:
        return "as long as it takes"
    return f"{_span(window)}, with a reminder {_span(notice_before(window))} before the end"


def _span(span: timedelta) -> str:
    minutes = round(span.total_seconds() / 60)
    hours, rest = divmod(minutes, 60)
    if hours and not rest:
        return f"{hours} {'hour' if hours == 1 else 'hours'}"
    return f"{minutes} minutes"
