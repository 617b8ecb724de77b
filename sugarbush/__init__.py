"""A shared urban maple-tapping programme, from tree file to season totals."""

__version__ = "0.2.0"
