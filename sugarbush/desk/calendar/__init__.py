"""A person's own calendar, as other programs read it."""
