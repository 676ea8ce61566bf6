"""Broodstock, recorded and answered: fish, pairs, groups, losses."""
