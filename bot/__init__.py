"""The chat front end: slash commands in, cards out. Holds no rules and no SQL."""
