"""Broodstock, computed: sex, length, pairs, kinship, the feeding rota, and who could step in."""
