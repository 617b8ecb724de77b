"""The tree’s own page: its whole life, from the first look to the litres."""
