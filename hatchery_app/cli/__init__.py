"""Starts. `hatchery` serves the room; `hatchery demo` the made-up one."""

from hatchery_app.cli.command import main

__all__ = ["main"]
