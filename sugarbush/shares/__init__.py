"""Sharing out the jars: the rule, the runs, each person’s share, questions."""
