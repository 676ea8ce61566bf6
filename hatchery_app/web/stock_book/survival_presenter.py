"""Survival of a species in words, drawings and the tables behind them."""

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from hatchery_app.domain.stock_book.reared import FEWEST_BATCHES, BandPoint
from hatchery_app.domain.stock_book.stage_survival import Reached, StepOverAll
from hatchery_app.domain.stock_book.survival import NotComputable, Survival, say_bound, say_percent
from hatchery_app.domain.when import RoomTime, say_date
from hatchery_app.services.stock_book.species_survival import (
    BatchRow,
    CurveOfAll,
    SpeciesLine,
    SpeciesSurvival,
)
from hatchery_app.web.addresses import address_of
from hatchery_app.web.drawing import batches_compared, losses_by_age, survival_band
from hatchery_app.web.drawing.batches_compared import BatchesCompared, Fared, Group
from hatchery_app.web.drawing.canvas import Numbers
from hatchery_app.web.drawing.losses_by_age import BatchLosses, LossesByAge
from hatchery_app.web.drawing.survival_band import BandStep, SurvivalBand
from hatchery_app.web.stock_book import groups_presenter
from hatchery_app.web.stock_book.groups_presenter import GroupsPart
from hatchery_app.web.stock_book.presenter import holding_url

AGES_IN_TABLE = (0, 1, 2, 3, 5, 7, 10, 14, 20, 30, 45, 60, 90, 120, 180, 270, 365)
FIRST_SHOWN = 12  # the rest is folded away


@dataclass(frozen=True)
class SpeciesChoice:
    """A species to be opened."""

    name: str
    batches: str
    url: str


@dataclass(frozen=True)
class ListPage:
    """The species to choose from."""

    heading: str
    species: tuple[SpeciesChoice, ...]


@dataclass(frozen=True)
class BatchLine:
    """One batch in its row. `share` is "" where it cannot be computed; `said` has both numbers."""

    name: str
    url: str
    share: str
    said: str
    beside: str
    culls: str
    outside: str


@dataclass(frozen=True)
class Drawn:
    """A drawing with its table."""

    drawing: Markup
    numbers: Numbers


@dataclass(frozen=True)
class ShowPage:
    """The page of one species; `curve`, `losses` and `groups` are None below five batches."""

    heading: str
    beside: str
    species_url: str
    first: tuple[BatchLine, ...]
    rest: tuple[BatchLine, ...]
    row: Drawn
    older: str
    too_few: str
    curve: Drawn | None
    curve_notes: tuple[str, ...]
    losses: Drawn | None
    bad_days: tuple[str, ...]
    steps: tuple[tuple[str, str, str, str], ...]
    stages: Numbers | None
    groups: GroupsPart | None


def listed(lines: Sequence[SpeciesLine]) -> ListPage:
    """The species to choose from."""
    return ListPage(
        "Survival",
        tuple(
            SpeciesChoice(
                line.name,
                f"{line.batches} batch{'es' if line.batches != 1 else ''}",
                address_of("stock_book.survival", key=line.key),
            )
            for line in lines
        ),
    )


def shown(found: SpeciesSurvival, room_time: RoomTime) -> ShowPage:
    """The page of one species."""
    lines = tuple(_line(row, room_time) for row in found.rows)
    row = BatchesCompared(
        "Share alive, batch by batch", (Group("", tuple(_fared(one) for one in found.rows)),)
    )
    name = found.name[0].upper() + found.name[1:]
    batches = len(found.rows)
    return ShowPage(
        heading=f"Survival: {found.name}",
        beside=f"{batches} batch{'es' if batches != 1 else ''}, {found.followed} followed from "
        "the hatch with known numbers",
        species_url=address_of("species.show", key=found.key),
        first=lines[:FIRST_SHOWN],
        rest=lines[FIRST_SHOWN:],
        row=Drawn(batches_compared.batches_compared(row), batches_compared.numbers(row)),
        older=f"The newest {batches} batches; {name} has older ones." if found.has_older else "",
        too_few=_too_few(found),
        curve=_curve(found.curve) if found.curve is not None else None,
        curve_notes=_curve_notes(found.curve) if found.curve is not None else (),
        losses=_losses(found) if found.curve is not None else None,
        bad_days=tuple(days.said() for days in found.bad_days),
        steps=tuple(_step(step) for step in found.steps),
        stages=_stages(found),
        groups=groups_presenter.part(found.groups, found.key) if found.groups else None,
    )


def _too_few(found: SpeciesSurvival) -> str:
    if found.curve is not None:
        return ""
    return (
        f"Curves, losses by age and comparisons come from {FEWEST_BATCHES} batches on that were "
        f"followed from the hatch with known numbers. So far {found.followed}: with so few, one "
        "bad night would look like the species."
    )


# --- Batch by batch -----------------------------------------------------------------------


def _line(row: BatchRow, room_time: RoomTime) -> BatchLine:
    held, fared = row.holding, row.survival
    hatched = ""
    if held.hatched is not None:
        hatched = f"hatched {held.hatched[0].said(year=True)}"
    parts = [row.label, hatched, row.pair or "parents not known", _state(row, room_time)]
    culls = ""
    if isinstance(row.without_culls, Survival):
        culls = f"those put down set aside: {row.without_culls.said()}"
    error = fared.start_error if isinstance(fared, Survival) else ""
    return BatchLine(
        name=held.name,
        url=holding_url(held),
        share=_share(fared),
        said=" ".join(part for part in (fared.said(), error) if part),
        beside=" · ".join(part for part in parts if part),
        culls=culls,
        outside=f"in no curve: {row.not_followed}" if row.not_followed else "",
    )


def _state(row: BatchRow, room_time: RoomTime) -> str:
    if row.ended_at is None:
        return f"{row.balance.now.said()} here now"
    by = say_date(room_time.local(row.ended_at).date())
    left = row.balance.left_alive
    return f"none left by {by}" if left.best == 0 else f"{left.said()} left alive, gone by {by}"


def _share(fared: Survival | NotComputable) -> str:
    if isinstance(fared, NotComputable):
        return ""
    if fared.best is None:
        return f"under {say_bound(fared.high or 0)} %"
    return f"{say_percent(fared.best)} %"


def _fared(row: BatchRow) -> Fared:
    fared = row.survival
    if isinstance(fared, NotComputable):
        return Fared(row.holding.name, None, None, None, fared.said())
    low = fared.low if fared.best is not None else None
    return Fared(row.holding.name, fared.best, low, fared.high, fared.said())


# --- By age -------------------------------------------------------------------------------


def _curve(curve: CurveOfAll) -> Drawn:
    shown = _rows_at(curve.points)
    chart = SurvivalBand(
        "Survival by age, all batches followed",
        tuple(
            BandStep(point.dph, point.best, point.low, point.high, _cells(point, point in shown))
            for point in curve.points
        ),
        threads=tuple(
            tuple((point.day, point.survival) for point in points) for points in curve.of_each
        ),
        other=tuple((point.dph, point.best) for point in curve.without_culls or ()),
        other_name="those put down set aside" if curve.without_culls else "",
        columns=("dph", "batches", "fish", "alive %", "95 %", "died", "left alive"),
    )
    return Drawn(survival_band.survival_band(chart), survival_band.numbers(chart))


def _rows_at(points: Sequence[BandPoint]) -> list[BandPoint]:
    last = points[-1].dph if points else -1
    return [point for point in points if point.dph in AGES_IN_TABLE or point.dph == last]


def _cells(point: BandPoint, is_shown: bool) -> tuple[str, ...]:
    if not is_shown:
        return ()
    return (
        str(point.dph), str(point.batches), f"{point.entering:.0f}", say_percent(point.best),
        f"{say_percent(point.low)}–{say_percent(point.high)}", f"{point.died:.0f}",
        f"{point.left:.0f}",
    )  # fmt: skip


def _curve_notes(curve: CurveOfAll) -> tuple[str, ...]:
    last = curve.points[-1]
    notes = [
        "Fish sold, moved on or sampled lived as long as they were here and are then no longer "
        "counted (life table by the day, removals censored).",
        "The band holds 95 % for chance (Greenwood, on the log-log scale) and for not knowing on "
        "which day between two looks fish were lost. It takes every fish by itself; fish of one "
        "tank die together, so it is too narrow. The thin lines are the batches.",
        f"Drawn as far as {FEWEST_BATCHES} batches are followed, {last.dph} dph.",
    ]
    if curve.without_culls:
        other = curve.without_culls[-1]
        notes.insert(
            1,
            f"Those put down count as deaths: {say_percent(last.best)} % at {last.dph} dph. Set "
            f"aside like fish sold it would be {say_percent(other.best)} % (broken line).",
        )
    return tuple(notes)


def _losses(found: SpeciesSurvival) -> Drawn:
    names = {row.holding.id: row.holding.name for row in found.rows}
    newest = {row.holding.id: place for place, row in enumerate(found.rows)}
    ordered = sorted(found.losses, key=lambda one: newest.get(one.key, 0))
    chart = LossesByAge(
        "Losses by age, batch by batch",
        tuple(
            BatchLosses(
                names.get(one.key, ""),
                one.until_dph,
                tuple(
                    losses_by_age.Loss(
                        mark.from_dph, mark.until_dph, mark.share,
                        f"{mark.number} {mark.fate}, {say_percent(mark.share)} % of those there",
                    )
                    for mark in one.marks
                ),
            )
            for one in ordered
        ),
        tuple((days.first, days.last) for days in found.bad_days),
    )  # fmt: skip
    return Drawn(losses_by_age.losses_by_age(chart), losses_by_age.numbers(chart))


# --- From eggs to sale --------------------------------------------------------------------


def _step(step: StepOverAll) -> tuple[str, str, str, str]:
    way = f"{step.begin} → {step.end}"
    clutches = f"{step.clutches} of {step.of}"
    if step.best is None or step.low is None or step.high is None:
        return way, "not computable", "", clutches
    about = "about " if step.is_about else ""
    spread = f"{say_percent(step.low)}–{say_percent(step.high)} %" if step.clutches > 1 else ""
    return (
        way,
        f"{say_percent(step.best)} % ({about}{step.reached:,} of {step.began:,})".replace(",", " "),
        spread,
        clutches,
    )


def _stages(found: SpeciesSurvival) -> Numbers | None:
    """Clutch by clutch: the number at each stage that is known."""
    if not found.stages:
        return None
    columns = [stage for stage in Reached if stage is not Reached.STAYED]
    rows = tuple(
        (
            found.clutch_names.get(one.clutch_id, "a clutch withdrawn since"),
            *(one.numbers[stage].said() if stage in one.numbers else "–" for stage in columns),
        )
        for one in sorted(found.stages, key=lambda one: one.clutch_id, reverse=True)
    )
    return Numbers("Clutch by clutch", ("clutch", *map(str, columns)), rows)
