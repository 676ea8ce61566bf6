"""How dates, moments and amounts read on a page. Templates format nothing by themselves."""

from datetime import date, datetime

from flask import Flask, g
from markupsafe import Markup, escape

from hatchery_app.domain.when import Night, When, say_date, say_when


def setup(app: Flask) -> None:
    """Make the filters known to templates."""
    app.add_template_filter(day)
    app.add_template_filter(moment)
    app.add_template_filter(clock_time)
    app.add_template_filter(when)


def day(value: date | Night) -> Markup:
    """ "Thu 19 Nov" in a time tag."""
    on = value.evening if isinstance(value, Night) else value
    return Markup('<time datetime="{}">{}</time>').format(on.isoformat(), say_date(on))


def moment(value: datetime) -> Markup:
    """ "Thu 19 Nov 21:30", room time, in a time tag."""
    local = g.room.room_time.local(value)
    return Markup('<time datetime="{}">{} {}</time>').format(
        value.isoformat(), say_date(local.date()), local.strftime("%H:%M")
    )


def clock_time(value: datetime) -> Markup:
    """ "21:30", room time, in a time tag."""
    local = g.room.room_time.local(value)
    return Markup('<time datetime="{}">{}</time>').format(
        value.isoformat(), local.strftime("%H:%M")
    )


def when(value: When) -> Markup:
    """A When as keepers say it, in room time."""
    return Markup(escape(say_when(value, g.room.room_time)))
