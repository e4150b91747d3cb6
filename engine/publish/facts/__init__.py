"""Facts of rules content in short plain words: what a card or a terminal shows of a spell, a feature, a class."""

from engine.publish.facts.entries import Facts, Section, facts_of

__all__ = ["Facts", "Section", "facts_of"]
