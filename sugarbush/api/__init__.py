"""What programs read: trees as features for a GIS, seasons and entries as JSON, by a personal token. Never written."""
