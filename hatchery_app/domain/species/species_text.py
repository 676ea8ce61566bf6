"""A species file as text: what stands where, and a refusal that names file, line and reason."""

import math
import re
import tomllib
from collections.abc import Mapping
from difflib import get_close_matches
from typing import Any

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.species.species import Figure, Mark

Path = tuple[str, ...]

_HEADER = re.compile(r"^\s*\[\[?\s*([A-Za-z0-9_.\s-]+?)\s*\]\]?\s*(#.*)?$")
_KEY = re.compile(r"^\s*([A-Za-z0-9_.-]+)\s*=(.*)$")
_TOML_LINE = re.compile(r"\s*\(at line (\d+), column \d+\)")


class SpeciesRefused(RuleBroken):
    """A species file that cannot be used, with its name, the line and the reason."""

    def __init__(self, file_name: str, line: int, reason: str) -> None:
        super().__init__(f"{file_name}:{line}: {reason}", field="species_file")
        self.file_name = file_name
        self.line = line
        self.reason = reason


def lines_by_path(text: str) -> dict[Path, int]:
    """The line on which each key or table begins.

    The standard reader gives no lines, so headers and keys are found by scanning; the rows of a
    list stand under its key with their number, from 0. Good for files of one key a line.
    """
    lines: dict[Path, int] = {}
    table: Path = ()
    rows_of: Path | None = None
    row = 0
    for number, line in enumerate(text.splitlines(), start=1):
        if rows_of is not None:
            if line.lstrip().startswith("{"):
                lines[(*rows_of, str(row))] = number
                row += 1
            if line.strip().startswith("]"):
                rows_of = None
        elif header := _HEADER.match(line):
            table = tuple(part.strip() for part in header[1].split("."))
            lines.setdefault(table, number)
        elif key := _KEY.match(line):
            path = (*table, *key[1].split("."))
            lines.setdefault(path, number)
            if key[2].split("#")[0].strip() == "[":
                rows_of, row = path, 0
    return lines


class SpeciesText:
    """One file being read: its data, where its lines are, and the figures gathered so far."""

    def __init__(self, text: str, file_name: str) -> None:
        self.text = text
        self.file_name = file_name
        self.figures: dict[str, Figure] = {}
        self._lines = lines_by_path(text)
        try:
            self.root = Section(self, (), tomllib.loads(text))
        except tomllib.TOMLDecodeError as error:
            raise self._unreadable(error) from error
        except RecursionError as error:
            raise SpeciesRefused(file_name, 1, "its brackets stand too deep.") from error

    def _unreadable(self, error: tomllib.TOMLDecodeError) -> SpeciesRefused:
        found = _TOML_LINE.search(str(error))
        line = int(found[1]) if found else max(1, len(self.text.splitlines()))
        what = _TOML_LINE.sub("", str(error)).replace("(at end of document)", "").strip()
        return SpeciesRefused(self.file_name, line, f"this line cannot be read: {what}.")

    def line(self, path: Path) -> int:
        """The line of a path, or of the nearest table around it; 1 where nothing is found."""
        while path:
            if path in self._lines:
                return self._lines[path]
            path = path[:-1]
        return 1

    def refusal(self, path: Path, reason: str) -> SpeciesRefused:
        """The refusal to raise for what stands at a path."""
        return SpeciesRefused(self.file_name, self.line(path), reason)


class Section:
    """A table of the file. Each key is asked for once; `finish` refuses what nobody asked for."""

    def __init__(self, source: SpeciesText, path: Path, values: Mapping[str, Any]) -> None:
        self._source = source
        self._path = path
        self._values = values
        self._asked: set[str] = set()

    def __contains__(self, key: str) -> bool:
        return key in self._values

    def refusal(self, key: str, reason: str) -> SpeciesRefused:
        """The refusal of one key of this table, "" for the table itself."""
        path = (*self._path, key) if key else self._path
        return self._source.refusal(path, f"{'.'.join(path) or 'the file'} {reason}")

    def _take(self, key: str, kind: type | tuple[type, ...], called: str) -> Any:
        self._asked.add(key)
        if key not in self._values:
            near = get_close_matches(key, set(self._values) - self._asked, n=1)
            hint = f" {near[0]} stands here; did you mean {key}?" if near else ""
            raise self.refusal(key, f"is missing: {called} is needed here.{hint}")
        value = self._values[key]
        if not isinstance(value, kind) or (isinstance(value, bool) and kind is not bool):
            raise self.refusal(key, f"must be {called}, not {value!r}.")
        return value

    def section(self, key: str) -> "Section":
        """A table under this one, which must be there."""
        return Section(self._source, (*self._path, key), self._take(key, dict, "a table"))

    def section_if_any(self, key: str) -> "Section | None":
        """A table under this one, None where the file has none."""
        self._asked.add(key)
        return self.section(key) if key in self else None

    def rows(self, key: str) -> list["Section"]:
        """A list of tables, one a row."""
        found = self._take(key, list, "a list of rows")
        rows = []
        for number, row in enumerate(found):
            path = (*self._path, key, str(number))
            if not isinstance(row, dict):
                raise self._source.refusal(path, f"{'.'.join(path)} must be a row {{ … }}.")
            rows.append(Section(self._source, path, row))
        return rows

    def rows_if_any(self, key: str) -> list["Section"]:
        """A list of tables, empty where the file has none."""
        self._asked.add(key)
        return self.rows(key) if key in self else []

    def words(self, key: str) -> str:
        """A text that must not be empty."""
        text = str(self._take(key, str, "a text")).strip()
        if not text:
            raise self.refusal(key, "is empty: say it in words or leave the section out.")
        return text

    def words_if_any(self, key: str) -> str:
        """A text, "" where the file has none."""
        self._asked.add(key)
        return self.words(key) if key in self else ""

    def list_of_words(self, key: str) -> tuple[str, ...]:
        """A list of texts, empty where the file has none."""
        self._asked.add(key)
        found = self._take(key, list, "a list of texts") if key in self else []
        if not all(isinstance(word, str) for word in found):
            raise self.refusal(key, f"must be a list of texts, not {found!r}.")
        return tuple(found)

    def yes(self, key: str) -> bool:
        """A yes or no, no where the file says nothing."""
        self._asked.add(key)
        return bool(self._take(key, bool, "true or false")) if key in self else False

    def number(self, key: str, least: float, most: float) -> float:
        """A number between two bounds, both included."""
        value = float(self._take(key, (int, float), "a number"))
        if not math.isfinite(value) or not least <= value <= most:
            raise self.refusal(key, f"must lie between {least:g} and {most:g}, not {value:g}.")
        return value

    def number_if_any(self, key: str, least: float, most: float) -> float | None:
        """A number between two bounds, None where the file has none."""
        self._asked.add(key)
        return self.number(key, least, most) if key in self else None

    def whole(self, key: str, least: int, most: int) -> int:
        """A whole number between two bounds, both included."""
        value = self.number(key, least, most)
        if value != int(value):
            raise self.refusal(key, f"must be a whole number, not {value:g}.")
        return int(value)

    def whole_if_any(self, key: str, least: int, most: int) -> int | None:
        """A whole number between two bounds, None where the file has none."""
        self._asked.add(key)
        return self.whole(key, least, most) if key in self else None

    def one_of(self, key: str, allowed: tuple[str, ...]) -> str:
        """One of a few words; "" only where it is among them."""
        word = str(self._take(key, str, "a text")).strip()
        if word not in allowed:
            raise self.refusal(key, f"must be {' or '.join(map(repr, allowed))}, not {word!r}.")
        return word

    def one_of_if_any(self, key: str, allowed: tuple[str, ...]) -> str:
        """One of a few words, "" where the file says nothing."""
        self._asked.add(key)
        return self.one_of(key, allowed) if key in self else ""

    def mark(self) -> str:
        """The mark of the figures of this table."""
        return self.one_of("mark", tuple(mark.value for mark in Mark))

    def figure(self, key: str, units: tuple[str, ...], least: float, most: float) -> Figure:
        """A figure with unit, source and mark, gathered under its path.

        Either one `value` or a range `low` to `high`; the value of a range is its middle.
        """
        table = self.section(key)
        unit = table.one_of("unit", units)
        low: float | None = None
        high: float | None = None
        if "low" in table or "high" in table:
            if "value" in table:
                raise table.refusal("value", "stands beside low and high: give one or the other.")
            bottom, top = table.number("low", least, most), table.number("high", least, most)
            if bottom > top:
                raise table.refusal("low", f"is above high: {bottom:g} and {top:g} {unit}.")
            low, high, value = bottom, top, (bottom + top) / 2
        else:
            value = table.number("value", least, most)
        source, mark, note = table.words("source"), table.mark(), table.words_if_any("note")
        table.finish()
        figure = Figure(value, unit, source, mark, low, high, note)
        self._source.figures[".".join((*self._path, key))] = figure
        return figure

    def figure_if_any(
        self, key: str, units: tuple[str, ...], least: float, most: float
    ) -> Figure | None:
        """A figure, None where the file leaves it out because nobody has published it."""
        self._asked.add(key)
        return self.figure(key, units, least, most) if key in self else None

    def finish(self) -> None:
        """Refuse a key that nothing here reads: it is most often a slip of the pen."""
        for key in self._values:
            if key not in self._asked:
                near = get_close_matches(key, self._asked, n=1)
                known = ", ".join(sorted(self._asked))
                hint = f"did you mean {near[0]}?" if near else f"known here: {known}."
                raise self.refusal(key, f"is not known: {hint}")
