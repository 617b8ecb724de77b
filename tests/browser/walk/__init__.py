"""A season walked in a browser, by noun: what a person does at each kind of page."""
