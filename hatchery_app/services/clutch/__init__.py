"""Clutch, recorded and answered: looks, moves, hatches; the watch over all open clutches."""
