"""The trees' pages, one file a noun."""
