"""The round on a phone without signal: what it takes along, and what it sends back."""
