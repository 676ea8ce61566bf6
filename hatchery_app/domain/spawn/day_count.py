"""A laying told by the day its eggs are in: "today is the tenth day".

Some count the laying day as day 0, some as day 1, so a number alone leaves two days: it is asked
which, and one who does not know says both.
"""

from datetime import date, timedelta

from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.when import RoomTime, When, say_date

QUESTION = "counted_from"
FROM_ZERO, FROM_ONE, EITHER = "0", "1", "either"
LONGEST_DAYS = 60  # no eggs of the library are carried or tended longer


def laid_by_day_count(
    number: int, on: date, room_time: RoomTime, counted_from: str | None = None
) -> When:
    """The laying of eggs that are in day `number` on a date; whole days, as no hour was said.

    `counted_from`: "0" or "1" for the laying day's own number, "either" for both. Raises Asked
    until that is said (a day 0 can only be counted from 0), RuleBroken for no such day.
    """
    if not 0 <= number <= LONGEST_DAYS:
        raise RuleBroken(
            f"Eggs are counted from 0 to {LONGEST_DAYS} days, not {number}.", field="day_number"
        )
    from_zero = on - timedelta(days=number)
    if number == 0:
        return room_time.whole_days(from_zero, said=_said(number, on, from_zero))
    from_one = from_zero + timedelta(days=1)
    match counted_from:
        case "0":
            return room_time.whole_days(from_zero, said=_said(number, on, from_zero))
        case "1":
            return room_time.whole_days(from_one, said=_said(number, on, from_one))
        case "either":
            said = f"day {number} on {say_date(on)}, the laying day counted as 0 or as 1"
            return room_time.whole_days(from_zero, from_one, said=said)
    raise Asked(
        f"Day {number} on {say_date(on)}: is the day of the laying day 0 or day 1?",
        QUESTION,
        (
            (FROM_ZERO, f"Day 0: laid {say_date(from_zero)}"),
            (FROM_ONE, f"Day 1: laid {say_date(from_one)}"),
            (EITHER, "I do not know: one of the two"),
        ),
        "day_number",
    )


def _said(number: int, on: date, laid: date) -> str:
    return f"day {number} on {say_date(on)}, so laid {say_date(laid)}"
