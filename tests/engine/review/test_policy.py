"""Counting votes: quorum, share, and policies that make no sense.

Quorum and share as design.md section 8 states them: for/(for+against) >= share and all votes >= quorum.
"""

from datetime import timedelta
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.review.events import policy_data, read_policy
from engine.review.policy import DEFAULT_POLICY, Ballot, Decider, Policy, Tally, Voters

counts = st.integers(0, 60)
policies = st.builds(
    lambda role, **rest: Policy(voters=Voters.EVERYONE if role is None else Voters.ROLE, role=role, **rest),
    role=st.none() | st.integers(1, 2**63),
    author_votes=st.booleans(),
    proposer_votes=st.booleans(),
    quorum=st.integers(0, 50),
    share=st.integers(1, 100),
    window=st.none() | st.integers(60, 10**6).map(lambda s: timedelta(seconds=s)),
    ballot=st.sampled_from(Ballot),
    decider=st.sampled_from(Decider),
)


@given(counts, counts, counts, st.integers(0, 50), st.integers(1, 100))
def test_a_vote_passes_exactly_by_share_and_quorum(
    for_: int, against: int, abstain: int, quorum: int, share: int
) -> None:
    """The share is compared as a fraction, so that a third of three is not lost to rounding."""
    tally = Tally(for_, against, abstain)
    policy = Policy(quorum=quorum, share=share)
    expected = (
        for_ + against > 0
        and Fraction(for_, max(1, for_ + against)) >= Fraction(share, 100)
        and for_ + against + abstain >= quorum
    )
    assert tally.passes(policy) is expected
    assert tally.all == for_ + against + abstain


def test_abstentions_count_for_the_quorum_only() -> None:
    """One for, three abstaining: a quorum of four is reached and all of for + against is for."""
    assert Tally(1, 0, 3).passes(Policy(quorum=4, share=100))
    assert not Tally(1, 0, 2).has_quorum(Policy(quorum=4))
    assert not Tally(0, 0, 9).passes(Policy(quorum=1, share=1))


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"quorum": -1}, "cannot be negative"),
        ({"share": 0}, "1 to 100"),
        ({"share": 101}, "1 to 100"),
        ({"role": 7}, "role goes with voters"),
        ({"voters": Voters.ROLE}, "role goes with voters"),
    ],
)
def test_policies_that_make_no_sense_are_not_made(wrong: dict[str, object], sentence: str) -> None:
    """A policy out of range is a bug of whoever makes it, so it raises."""
    with pytest.raises(ValueError, match=sentence):
        Policy(**wrong)  # type: ignore[arg-type]


@given(policies)
def test_policies_are_stored_and_read_back(policy: Policy) -> None:
    """What is equal to the default is left out."""
    assert read_policy(policy_data(policy)) == policy


def test_the_default_policy_is_stored_as_nothing() -> None:
    """Everyone votes, the author decides, no deadline: the first policy there was."""
    assert policy_data(DEFAULT_POLICY) == {}
    assert DEFAULT_POLICY.decider is Decider.AUTHOR
    assert DEFAULT_POLICY.window is None
