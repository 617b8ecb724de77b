"""The first page: what to do next, and how the day stands."""
