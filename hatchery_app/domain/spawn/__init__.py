"""Spawn, computed: whose eggs they are, a pair's rhythm, and when it may lay next."""
