"""Reads a table of published values: inputs by name, the expected value, how near it must come."""

import csv
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class PublishedRow:
    """One row: what is worked out from which inputs, and what its source prints."""

    name: str
    quantity: str
    inputs: dict[str, float]
    expected: str
    tolerance: str
    source: str
    standing: str

    def agrees(self, worked: float | str | None) -> bool:
        """Whether a value meets the row: the same word, or within the tolerance, % of expected."""
        if not isinstance(worked, (int, float)):
            return worked == self.expected
        expected = float(self.expected)
        if self.tolerance.endswith("%"):
            allowed = abs(expected) * float(self.tolerance[:-1]) / 100
        else:
            allowed = float(self.tolerance)
        return abs(worked - expected) <= allowed + 1e-12 * abs(expected)


def read_rows(file_name: str) -> list[PublishedRow]:
    """The rows of a table that stands in this folder."""
    text = Path(__file__).with_name(file_name).read_text(encoding="utf-8")
    return [
        PublishedRow(
            row["name"],
            row["quantity"],
            {
                word: float(number)
                for word, number in (pair.split("=") for pair in row["inputs"].split(";") if pair)
            },
            row["expected"],
            row["tolerance"],
            row["source"],
            row["standing"],
        )
        for row in csv.DictReader(text.splitlines())
    ]
