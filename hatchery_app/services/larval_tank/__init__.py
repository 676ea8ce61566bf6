"""Larval tank, recorded and answered: larvae put, moved, joined, settled; each day's plan."""
