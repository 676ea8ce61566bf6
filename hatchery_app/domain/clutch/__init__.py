"""Clutch, computed: thermal time, the nights it may hatch, what evidence and record say of them."""
