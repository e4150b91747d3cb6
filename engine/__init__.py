"""Everything that is true without a chat server: rules, numbers, odds, differences, review, storage."""
