"""Whether a records folder is being served. What would pull the records away from under a program
that remembers them waits until nobody serves them.

The lock is on the folder itself and held by the process: it goes with it, however that ends.
"""

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import click


@contextmanager
def serving(folder: Path) -> Iterator[None]:
    """While these records are served; several programs may serve the same ones."""
    refused = f"The records in {folder} are just being replaced. Start again in a moment."
    with _locked(folder, fcntl.LOCK_SH, refused):
        yield


@contextmanager
def nobody_serving(folder: Path) -> Iterator[None]:
    """While the records are put away for others. Ends the command where somebody serves them."""
    folder.mkdir(parents=True, exist_ok=True)
    refused = f"The records in {folder} are being served. Stop that program first."
    with _locked(folder, fcntl.LOCK_EX, f"{refused} Nothing was changed."):
        yield


@contextmanager
def _locked(folder: Path, how: int, refused: str) -> Iterator[None]:
    handle = os.open(folder, os.O_RDONLY)
    try:
        try:
            fcntl.flock(handle, how | fcntl.LOCK_NB)
        except BlockingIOError as busy:
            raise click.ClickException(refused) from busy
        yield
    finally:
        os.close(handle)
