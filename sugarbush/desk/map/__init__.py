"""The map and the list beside it: the same trees, the same choice, the same acts."""
