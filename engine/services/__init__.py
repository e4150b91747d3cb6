"""The use cases: one frozen command and one async function for each thing that a member can do.

Every function is `async (command, unit of work) -> result | Refused`, runs one transaction, is scoped to one server and
reads no clock. `Database.call` of engine.store runs one.
"""
