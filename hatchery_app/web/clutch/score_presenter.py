"""Forecasts beside what came, in words and ten eggs."""

from dataclasses import dataclass

from flask import url_for
from markupsafe import Markup

from hatchery_app.domain.clutch.hatch_forecast import HatchForecast
from hatchery_app.domain.clutch.hatch_score import Scored, TenthKept, Timing, Verdict
from hatchery_app.domain.clutch.night_span import NightSpan
from hatchery_app.domain.when import Night
from hatchery_app.services.clutch.clutch_score import ClutchScored, Evening, Replay, Score
from hatchery_app.web.clutch.nights_presenter import MAY_BE
from hatchery_app.web.drawing import ten_eggs
from hatchery_app.web.drawing.canvas import Numbers

NIGHTS_OF_AN_EVENING = 6
LEAST_SHOWN = 0.005
A_WEEK = 7
TOO_FEW = "too few to judge"
MINUS = "−"

Facts = tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class ScorePage:
    """The room's score. `columns` and `rows` are its hatches, newest first."""

    heading: str
    lead: str
    facts: Facts
    tenths: Markup
    tenths_numbers: Numbers | None
    columns: tuple[str, ...]
    rows: tuple[tuple[Markup | str, ...], ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class EveningLine:
    """What was said on one evening."""

    when: str
    said: str
    why: str
    nights: Markup


@dataclass(frozen=True)
class ReplayPage:
    """A clutch evening by evening; `earlier` is the forecast of a week before, faint."""

    heading: str
    id: int
    lead: str
    earlier_said: str
    earlier: Markup
    evenings: tuple[EveningLine, ...]
    numbers: Numbers | None
    kept_out: str
    check_list: tuple[str, ...]
    pair_said: str
    refused: str


def scored(found: Score) -> ScorePage:
    """The score page's words."""
    verdict = found.verdict
    nights = [_tenth(tenth) for tenth in found.tenths if tenth.can_judge]
    return ScorePage(
        heading="How right the nights were",
        lead=_lead(verdict),
        facts=() if verdict is None else _facts(verdict),
        tenths=ten_eggs.row_of_nights(nights, "Of ten nights given such a chance, so many hatched")
        if nights else Markup(""),
        tenths_numbers=_tenths_numbers(found.tenths) if found.tenths else None,
        columns=("clutch", "hatched", "said the evening before", "likeliest night"),
        rows=tuple(_row(each) for each in found.clutches),
        notes=_notes(found),
    )  # fmt: skip


def _lead(verdict: Verdict | None) -> str:
    if verdict is None:
        return "No hatch has been forecast yet. Each one is scored here, the next day."
    inside = f"{verdict.inside} of {verdict.hatches} hatches came on the nights said"
    if not verdict.can_judge:
        return f"{inside}: {TOO_FEW}."
    return f"{inside}; the nights said were to hold {_of_100(verdict.stated_chance)}."


def _facts(verdict: Verdict) -> Facts:
    few = "" if verdict.can_judge else f" · {TOO_FEW}"
    return (
        ("hatches", f"{verdict.hatches}{few}"),
        ("on the nights said", f"{verdict.inside} of {verdict.hatches}"),
        ("these were to hold", _of_100(verdict.stated_chance)),
        ("likeliest night", f"right {verdict.right}, early {verdict.early}, late {verdict.late}"
         + (f", not sure {verdict.not_sure}" if verdict.not_sure else "")),
        ("given to the night that came", _typically(verdict.typical_chance, verdict.log_score)),
        ("by the rule “night 8”",
         _typically(verdict.plain_typical_chance, verdict.plain_log_score)),
    )  # fmt: skip


def _typically(chance: float, log_score: float) -> str:
    return f"{_of_100(chance)} typically (log score {log_score:.2f})"


def _of_100(share: float) -> str:
    return f"{share * 100:.0f} of 100"


def _tenth(tenth: TenthKept) -> ten_eggs.NightChance:
    return ten_eggs.NightChance(
        label=_band(tenth), chance=tenth.share_came,
        said=f"{tenth.came} of {tenth.nights}",
    )  # fmt: skip


def _band(tenth: TenthKept) -> str:
    return f"{tenth.low * 10:.0f}–{tenth.high * 10:.0f} of 10"


def _tenths_numbers(tenths: tuple[TenthKept, ...]) -> Numbers:
    rows = tuple(
        (_band(tenth), str(tenth.nights), f"{tenth.mean_said * tenth.nights:.0f}",
         str(tenth.came), "" if tenth.can_judge else TOO_FEW)
        for tenth in tenths
    )  # fmt: skip
    columns = ("chance given", "nights", "to hatch by that", "hatched", "")
    return Numbers("Nights by the chance they were given", columns, rows, (1, 2, 3))


def _row(each: ClutchScored) -> tuple[Markup | str, ...]:
    link = Markup('<a href="{}">{}</a> {}').format(
        url_for("clutch.replay", clutch_id=each.clutch_id), each.name, each.whose
    )
    if each.scored is None:
        return (link, each.came.said(each.laid_night), each.why_not, "")
    first, last = each.scored.said.window
    run = f"night {first}" if first == last else f"night {first}–{last}"
    said = f"{run}, most likely {each.scored.said.likeliest}"
    inside = "" if each.scored.is_inside else "; outside the nights said"
    return (link, each.came.said(each.laid_night), said, _timing(each.scored) + inside)


def _timing(scored: Scored) -> str:
    """ "right", "1 night early", "2 nights late"."""
    if scored.timing is Timing.RIGHT:
        return str(scored.timing)
    if scored.timing is Timing.NOT_SURE:
        return "not sure: it may have been that night"
    nights = min(abs(scored.said.likeliest - number) for number in scored.numbers)
    least = "" if scored.is_sure else "at least "
    return f"{least}{nights} night{'' if nights == 1 else 's'} {scored.timing}"


def _notes(found: Score) -> tuple[str, ...]:
    notes = [
        "One forecast a clutch: the one of the evening before its hatch night, at lights-off, "
        "worked out again from what had been written down by then.",
        "Late is the expensive error: the likeliest night lay after the hatch.",
        f"The ten-egg row takes every evening with eggs left, {found.evenings} of them; the "
        "evening before a hatch is picked by the hatch itself.",
    ]
    if found.verdict is not None:
        notes.append(
            "The rule “night 8” spreads as a normal about night 8 by "
            f"{found.verdict.plain_spread_nights:.1f} nights, what these very hatches show, which "
            "favours it. The log score is the mean of "
            f"{MINUS}ln(chance given to the night that came): smaller is better."
        )
    if found.verdict is not None and found.verdict.found_late:
        notes.append(
            f"Found late, so that it may have been any of several nights: "
            f"{found.verdict.found_late}. Such a hatch counts as on the nights said if any of its "
            "nights was, and by the chance given to all of them together; early or late only if "
            "all of them say so. The ten-egg row leaves it out."
        )
    notes += [f"Not scored: {number}, {reason}." for reason, number in found.skipped]
    if found.left_out:
        notes.append(f"The newest hatches only; {found.left_out} older ones: hatchery score.")
    return tuple(notes)


def replayed(found: Replay, refused: str = "") -> ReplayPage:
    """One clutch's evenings in words."""
    earlier = _a_week_before(found)
    forecast = None if earlier is None else earlier.forecast
    return ReplayPage(
        heading=f"{found.clutch.name} · {found.whose}, evening by evening",
        id=found.clutch.id,
        lead=_came_said(found),
        earlier_said=f"As forecast {earlier.night.said(found.laid_night)}" if earlier else "",
        earlier=ten_eggs.row_of_nights(_faint(forecast, found), "The earlier forecast")
        if forecast is not None else Markup(""),
        evenings=_evening_lines(found),
        numbers=_replay_numbers(found) if found.evenings else None,
        kept_out=_kept_out(found),
        check_list=found.check_list,
        pair_said=_pair_said(found),
        refused=refused,
    )  # fmt: skip


def _came_said(found: Replay) -> str:
    if found.came:
        nights = (
            span.said(found.laid_night) if span.is_sure
            else f"on one of the nights {span.said(found.laid_night)}" for span in found.came
        )  # fmt: skip
        return "Hatched " + " and ".join(nights) + "."
    ending = found.clutch.ending
    return f"Ended: {ending.outcome}." if ending is not None else "Not hatched yet."


def _kept_out(found: Replay) -> str:
    if not found.is_kept_out:
        return ""
    return (
        "Such eggs are not known to hatch after so many nights, so this room learns nothing from "
        "this clutch. If laying and hatch are both right, confirm it."
    )


def _pair_said(found: Replay) -> str:
    """ "Of this pair 4 of 5 clutches hatched; 1 with a lamp on is kept out."""
    share = found.pair_share
    if share is None or share.could + share.kept_out == 0:
        return ""
    clutches = "clutch" if share.could == 1 else "clutches"
    kept = f"; {share.kept_out} with a lamp on kept out" if share.kept_out else ""
    return f"Of {found.whose} {share.hatched} of {share.could} {clutches} hatched{kept}."


def _a_week_before(found: Replay) -> Evening | None:
    """The evening a week before the hatch (or tonight), else the first that had a forecast."""
    told = [each for each in found.evenings if each.forecast and each.forecast.window]
    if not told:
        return None
    until = found.first.first if found.first else found.evenings[-1].night
    week = [each for each in told if each.night <= until.plus(-A_WEEK)]
    return week[-1] if week else told[0]


def _faint(forecast: HatchForecast, found: Replay) -> list[ten_eggs.NightChance]:
    return [
        ten_eggs.NightChance(
            label=each.night.said(), chance=min(each.chance, 1.0), past=True,
            came=_came_on(each.night, found),
        )
        for each in forecast.nights
        if each.chance >= LEAST_SHOWN or _came_on(each.night, found)
    ]  # fmt: skip


def _came_on(night: Night, found: Replay) -> str:
    """ "hatched", "perhaps" where it was found late, or ""."""
    spans = [span for span in found.came if night in span]
    if not spans:
        return ""
    return "hatched" if any(span.is_sure for span in spans) else MAY_BE


def _evening_lines(found: Replay) -> tuple[EveningLine, ...]:
    """The evenings, the last first, each with the reasons that the one before did not have."""
    lines, before = [], ""
    for each in found.evenings:
        forecast = each.forecast
        reasons = forecast.reasons if forecast is not None else ()
        fresh = [reason for reason in reasons if _gist(reason) not in before]
        lines.append(
            EveningLine(
                when=each.night.said(found.laid_night),
                said="" if forecast is None else forecast.window_said,
                why=each.why_not or "; ".join(fresh),
                nights=Markup("") if forecast is None else _nights(forecast, found),
            )
        )
        before = "; ".join(_gist(reason) for reason in reasons)
    return tuple(reversed(lines))


def _gist(reason: str) -> str:
    """A reason without the days it has lasted, which grow by themselves."""
    return reason.split(" assumed ")[0].split(" h at ")[-1].split(" on ")[0]


def _nights(forecast: HatchForecast, found: Replay) -> Markup:
    ahead = [n for n in forecast.ahead if n.chance >= LEAST_SHOWN or n.night == forecast.tonight]
    shown = [
        ten_eggs.NightChance(
            label="that night" if each.night == forecast.tonight else each.night.said(),
            chance=min(each.chance, 1.0), next=each.night == forecast.tonight,
            came=_came_on(each.night, found),
        )
        for each in ahead[:NIGHTS_OF_AN_EVENING]
    ]  # fmt: skip
    return ten_eggs.row_of_nights(shown, "The nights ahead as seen then")


def _replay_numbers(found: Replay) -> Numbers:
    came = found.first
    rows = tuple(
        (each.night.said(found.laid_night),
         each.forecast.window_said if each.forecast else "", _to_the(came, each), each.why_not)
        for each in found.evenings
    )  # fmt: skip
    columns = ("evening", "said", "given to the night that came", "why not")
    return Numbers("The forecast of each evening", columns, rows)


def _to_the(came: NightSpan | None, each: Evening) -> str:
    if came is None or each.forecast is None or each.forecast.unknown is not None:
        return ""
    given = (each.forecast.on(night) for night in came.each)
    return _of_100(min(sum(one.chance for one in given if one is not None), 1.0))
