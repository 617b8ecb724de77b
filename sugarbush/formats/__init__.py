"""How days and times are written, language by language."""
