"""All the thermometers of the room on one page, read on one walk."""

from flask import g, render_template, request, url_for
from werkzeug.wrappers import Response

from hatchery_app.database import session as records
from hatchery_app.services.tank import thermometers
from hatchery_app.web.entry_form import take
from hatchery_app.web.tank import thermometer_presenter as presenter
from hatchery_app.web.tank.thermometer_forms import form_for, tanks_read
from hatchery_app.web.when_fields import default_days


def read() -> Response | str | tuple[str, int]:
    """What each thermometer reads."""
    read = tanks_read(request.form)
    tanks = thermometers.thermometers(records, g.now, read)
    form = form_for(tanks, read)
    default_days(form, g.now)
    page = presenter.page_of(form, tanks, g.room, g.now)
    return take(
        form,
        record=lambda posting: thermometers.record_thermometers(
            records, posting=posting, read=form.read(), when=form.read_when()),
        then=lambda _how_many: url_for("tank.thermometers"),
        show=lambda: render_template("tank/thermometers_form.html", page=page),
        said="The readings are written down.",
    )  # fmt: skip
