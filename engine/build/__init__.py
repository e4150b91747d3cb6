"""The build document, its outline text, edits, differences of choices, three-way joining."""
