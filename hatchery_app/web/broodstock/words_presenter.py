"""Words that several pages of the broodstock say the same way."""

from hatchery_app.domain.spawn.next_spawn import NextSpawn, Outlook
from hatchery_app.domain.when import RoomTime, When, say_date, say_when
from hatchery_app.services.clutch.brood_clutches import BroodClutch


def since_said(when: When, room_time: RoomTime) -> str:
    """Since when, as it was said where it was said, else by date."""
    return when.said or say_when(when, room_time, year=True)


def next_said(answer: NextSpawn, room_time: RoomTime) -> str:
    """The next spawn in one line."""
    if answer.earliest is None or answer.latest is None or answer.likeliest is None:
        return {
            Outlook.OVERDUE: "next spawn overdue",
            Outlook.STOPPED: "has stopped laying",
        }.get(answer.outlook, "no next spawn to be said")
    first, likeliest, last = (
        say_date(room_time.local(at).date())
        for at in (answer.earliest, answer.likeliest, answer.latest)
    )
    if first == last:
        return f"may lay {first}"
    return f"may lay {first} to {last}, most likely {likeliest}"


def days_since_said(answer: NextSpawn) -> str:
    """How long since the last laying."""
    if answer.days_since_laying is None:
        return ""
    days = round(answer.days_since_laying)
    return {0: "laid today", 1: "laid a day ago"}.get(days, f"laid {days} days ago")


def outcome_said(clutch: BroodClutch) -> str:
    """How a clutch ended, or that it has not; larvae where they were numbered."""
    if clutch.outcome is None:
        said = "eggs now" if not clutch.hatched else "hatching"
        return f"{said}, pulled" if clutch.pulled else said
    larvae = clutch.larvae
    if larvae is not None and larvae.is_known:
        return f"{clutch.outcome}, {larvae.said()}"
    return str(clutch.outcome)


def sentence(words: str) -> str:
    """The words with a capital in front; days and months keep theirs."""
    return words[:1].upper() + words[1:]
