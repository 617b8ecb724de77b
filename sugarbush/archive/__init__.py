"""The whole programme as one file, and an empty install filled from it. The format: docs/archive-format.md."""
