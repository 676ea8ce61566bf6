"""Spawn, recorded: a laying, which makes the clutch."""
