"""Pages about owners and their permissions."""
