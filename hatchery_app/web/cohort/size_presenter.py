"""How large the fish of a cohort are, when they are of sale size, and what they eat, in words."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from markupsafe import Markup

from hatchery_app.domain.cohort.length_sample import LengthSample, SaleSizeDay
from hatchery_app.domain.live_food.live_food import two_figures_said
from hatchery_app.domain.when import RoomTime, say_date, say_when
from hatchery_app.services.cohort.cohort_facts import SampleLine
from hatchery_app.services.cohort.cohort_page import CohortPage
from hatchery_app.web.drawing import curve
from hatchery_app.web.drawing.canvas import Numbers


@dataclass(frozen=True)
class SizeDayLine:
    """When a share of them is of sale size, and what that rests on."""

    word: str
    said: str
    why: str


def size_facts(page: CohortPage, room_time: RoomTime) -> tuple[tuple[str, str], ...]:
    """The last sample, and from which length they are sold."""
    last = page.samples[-1] if page.samples else None
    size = page.sale_size
    said = f"{size.length_mm:g} mm" if size.length_mm else "not known"
    pairs = [
        ("last sample", f"{last.sample.said()}, {say_when(last.sample.when, room_time)}"
         if last else "none yet"),
        ("sold from", said),
    ]  # fmt: skip
    return tuple(pairs)


def small(page: CohortPage, room_time: RoomTime) -> str:
    """What the last sample says of fish still under sale size."""
    length = page.sale_size.length_mm
    if length is None or not page.samples or not page.samples[-1].sample.lengths_mm:
        return ""
    sample = page.samples[-1].sample
    under = sample.under(length)
    if not under:
        return ""
    day = say_when(sample.when, room_time)
    return f"{under} of the {len(sample.lengths_mm)} measured {day} were under {length:g} mm."


def size_days(days: Sequence[SaleSizeDay]) -> tuple[SizeDayLine, ...]:
    """A line a share; what is not known of any of them is said once."""
    unknown = {day.unknown for day in days}
    if days and len(unknown) == 1 and days[0].unknown:
        return (SizeDayLine("the day they are of sale size", days[0].unknown, ""),)
    return tuple(_size_day(day) for day in days)


def _size_day(day: SaleSizeDay) -> SizeDayLine:
    share = f"{day.share:.0%}".replace("%", " %")
    word = "half of them" if day.share == 0.5 else f"{share} of them"
    word = f"{word} at {day.length_mm:g} mm"
    if day.likely is None:
        return SizeDayLine(word, day.unknown, "")
    if day.low is None or day.high is None:
        said = f"about {say_date(day.likely)}; growth is too uneven to bound the day"
    elif day.low == day.high:
        said = say_date(day.likely)
    else:
        said = f"{say_date(day.low)} – {say_date(day.high)}, most likely {say_date(day.likely)}"
    why = ""
    if day.is_carried:
        why = (
            f"carried on {day.carried_days} days past the last sample: true only if they go on "
            "growing as they did"
        )
    return SizeDayLine(word, said, why)


def narrows(days: Sequence[SaleSizeDay]) -> str:
    """What would make the window narrower."""
    if not days:
        return ""
    if any(day.likely is None for day in days):
        return "Measure ten or more fish, a week or more apart."
    return "Another sample of ten or more, nearer the day, would narrow it."


def lengths_curve(
    samples: Sequence[SampleLine], sale_mm: float | None, room_time: RoomTime
) -> Markup:
    """The samples over the days; empty with fewer than two."""
    chart = _chart(samples, sale_mm, room_time)
    return curve.curve(chart) if len(chart.points) > 1 else Markup("")


def curve_numbers(samples: Sequence[SampleLine], room_time: RoomTime) -> Numbers | None:
    """The samples as a table."""
    chart = _chart(samples, None, room_time)
    return curve.numbers(chart) if chart.points else None


def _chart(
    samples: Sequence[SampleLine], sale_mm: float | None, room_time: RoomTime
) -> curve.Curve:
    measured = [line.sample for line in samples if line.sample.lengths_mm]
    first = measured[0].when.middle if measured else None
    points = tuple(_point(one, first, room_time) for one in measured if first is not None)
    limits = ((sale_mm, "sale size"),) if sale_mm is not None else ()
    return curve.Curve("Lengths sampled", "mm", points, from_zero=False, limits=limits)


def _point(sample: LengthSample, first: datetime, room_time: RoomTime) -> curve.Point:
    mean = sample.mean_mm or 0.0
    return curve.Point(
        (sample.when.middle - first) / timedelta(days=1), mean,
        say_date(room_time.local(sample.when.middle).date()), sample.said(),
        min(sample.lengths_mm), max(sample.lengths_mm),
    )  # fmt: skip


def feeding(page: CohortPage) -> tuple[tuple[str, str], ...]:
    """What a fish weighs, the dry food of a day, how thick they stand."""
    ration, weight = page.ration, page.weight
    food = "not known"
    if ration.each is not None:
        all_g = "" if ration.all_g is None else f"{two_figures_said(ration.all_g)} g, "
        food = f"{all_g}{two_figures_said(ration.each.percent_of_weight)} % of weight"
    grams = "not known" if weight.weight_g is None else f"{two_figures_said(weight.weight_g)} g"
    return (
        ("a fish weighs", grams),
        ("dry food a day", food),
        ("stocked at", page.density.said() if page.density is not None else "not known"),
    )


def feeding_why(page: CohortPage) -> tuple[str, ...]:
    """What the food and the room rest on, a sentence each."""
    food = f"Food: {page.ration.why}."
    if page.ration.each is not None:
        food = (
            "Food by Lupatsch et al. 2013 (A. percula, 27 °C, published), for dry food of 20 kJ "
            "per g; the label comes first."
        )
    told = [food]
    if page.weight.why != page.ration.why or page.ration.each is not None:
        told.insert(0, f"Weight: {page.weight.why}.")
    if page.density is not None:
        told.append(page.density.beside_the_trial())
    return tuple(told)
