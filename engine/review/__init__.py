"""Proposals, votes and who decides: a pure state machine, told everything and fetching nothing."""
