"""The history of acts: who did what, when, from what to what, and why."""
