"""Whole numbers in addresses and forms: no larger than what a column of the records holds."""

import re
from typing import Any

from flask import Flask, request
from werkzeug.routing import IntegerConverter, Map

LARGEST = 2**31 - 1
LONG_RUN = re.compile(r"\d{400}")  # no number of ours; reading one thousands long is refused


class WholeNumber(IntegerConverter):
    """A number in an address. A larger one names nothing, so that its address is not found."""

    def __init__(self, url_map: Map, **said: Any) -> None:
        super().__init__(url_map, **{"max": LARGEST, **said})


def setup(app: Flask) -> None:
    """Let every `<int:...>` of an address be such a number; before the rooms are hung in."""
    app.url_map.converters["int"] = WholeNumber


def read(text: str) -> int | None:
    """The whole number of 0 or more that is written with the figures 0 to 9, else None."""
    if not (text.isascii() and text.isdigit() and len(text) <= len(str(LARGEST))):
        return None
    number = int(text)
    return number if number <= LARGEST else None


def unreadable(said: object) -> str:
    """Why what a field holds cannot be read or kept by anything here; "" where it can."""
    for one in said if isinstance(said, list) else [said]:
        if isinstance(one, int) and abs(one) > LARGEST:
            return f"More than {LARGEST:,} cannot be kept."
        if isinstance(one, str) and LONG_RUN.search(one):
            return "A number in it is too long to be read."
        if isinstance(one, str) and "\0" in one:
            return "There is a sign in it that cannot be kept."
    return ""


def asked_for(name: str, otherwise: int = 0) -> int:
    """The whole number an address asks for, as in ?page=3; `otherwise` where it is none."""
    number = read(request.args.get(name, ""))
    return otherwise if number is None else number
