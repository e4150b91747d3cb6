"""The history of the schema, the only way it changes."""
