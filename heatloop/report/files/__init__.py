"""Files written."""
