"""The form behind every entry: its key, its question, and what was typed, never lost.

form = SpawnForm()
return take(form, record=lambda posting: spawn.record_laying(records, posting=posting, ...),
            then=lambda clutch_id: url_for("clutch.show", clutch_id=clutch_id),
            show=lambda: render_template("spawn/form.html", page=page(form)))
"""

import secrets
from collections.abc import Callable, Iterable
from datetime import datetime
from typing import Any

from flask import flash, g, redirect, request
from flask_wtf import FlaskForm
from werkzeug.wrappers import Response
from wtforms import Field, HiddenField, SelectField, TextAreaField, ValidationError
from wtforms.validators import Length, Optional

from hatchery_app.domain.errors import Asked, NotKnown, RuleBroken
from hatchery_app.services.recording import KeyUsedAgain, Posting
from hatchery_app.web.whole_numbers import unreadable

ANSWER = "answer-"
WHEN_OF = {
    "at_on": "at", "at_time": "at", "from_on": "between", "from_time": "between",
    "until_on": "between", "until_time": "between", "day_on": "day_count",
    "day_number": "day_count",
}  # fmt: skip
"""The answer to `when_how` under which each field of a moment is shown."""
NOT_THE_BODY = frozenset({"csrf_token", "key", "noted_at"})
CHOOSE = "choose"  # what a list says that must be answered


class EntryForm(FlaskForm):
    """What every form that records a fact has. `sentence` is said of the form as a whole."""

    key = HiddenField(default=lambda: secrets.token_urlsafe(18))
    noted_at = HiddenField()
    note = TextAreaField("Note", validators=[Optional(), Length(max=2000)])

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.sentence = ""
        self.asked: Asked | None = None

    def validate(self, *args: Any, **kwargs: Any) -> bool:
        """Whether every field can be read and kept; what is wrong stands beside its field."""
        sound: bool = super().validate(*args, **kwargs)
        for field in self:
            refused = unreadable(field.data) or _blank_choice(field)
            if refused:
                field.errors = [*field.errors, refused]
                sound = False
        return sound

    @property
    def answers(self) -> dict[str, str]:
        """What was answered to questions so far, by question; kept in the page as hidden fields."""
        return {
            name.removeprefix(ANSWER): value
            for name, value in request.form.items()
            if name.startswith(ANSWER) and value
        }

    def tries(self) -> bool:
        """Whether it was sent only to be looked at; then it is shown and nothing is recorded."""
        return False

    def posting(self) -> Posting:
        """Who says this, when it reached us, under which key."""
        body = {k: v for k, v in request.form.items() if k not in NOT_THE_BODY}
        return Posting(
            now=g.now,
            by_id=g.keeper.id if g.keeper else None,
            key=(self.key.data or secrets.token_urlsafe(18))[:64],
            body=body | {"at": request.path},
            noted_at=_device_time(self.noted_at.data or ""),
            answers=self.answers,
        )

    def refuse(self, refused: RuleBroken) -> None:
        """Put a refusal or a question beside the field it is about."""
        if isinstance(refused, KeyUsedAgain):
            self._new_key()
        if isinstance(refused, Asked):
            self.asked = refused
            return
        field = self._fields.get(self._in_sight(refused.field))
        if field is None or isinstance(field, HiddenField):
            self.sentence = refused.sentence
        else:
            field.errors = [*field.errors, refused.sentence]

    def points_to_what_was_not_chosen(self) -> bool:
        """Whether a list still says "choose"; the first such gets the sentence."""
        for field in self:
            if not isinstance(field, SelectField) or field.data not in (None, "", 0, "0"):
                continue
            if isinstance(field.choices, dict) and CHOOSE in field.choices.values():
                field.errors = [*field.errors, "Choose one from the list."]
                return True
        return False

    def _in_sight(self, name: str) -> str:
        """The field beside which a refusal is read: those of a "when" not chosen are hidden."""
        how, of = self._fields.get("when_how"), WHEN_OF.get(name)
        return name if how is None or of is None or how.data == of else "when_how"

    def _new_key(self) -> None:
        self.key.data = secrets.token_urlsafe(18)
        self.key.raw_data = [self.key.data]


def take(
    form: EntryForm,
    *,
    record: Callable[[Posting], int],
    then: Callable[[int], str],
    show: Callable[[], str],
    said: str = "",
) -> Response | tuple[str, int] | str:
    """Answer one form: shown when asked for, recorded and redirected when sent.

    A refusal or an open question shows the same page with status 422 and all that was typed.
    """
    if request.method == "GET" or form.tries():
        return show()
    if form.validate():
        try:
            fact_id = record(form.posting())
        except NotKnown:
            if not form.points_to_what_was_not_chosen():
                raise
        except RuleBroken as refused:
            form.refuse(refused)
        else:
            if said:
                flash(said)
            return redirect(then(fact_id), 303)
    elif "csrf_token" in form.errors:
        form.sentence = "This page was open for very long. Nothing is lost: send it once more."
    return show(), 422


def reads(parse: Callable[[str], object]) -> Callable[[Any, Field], None]:
    """A WTForms validator that lets a domain parser say what is wrong with a text."""

    def check(_form: Any, field: Field) -> None:
        try:
            parse(field.data or "")
        except Asked:
            return  # the service asks, where the answers are at hand
        except RuleBroken as refused:
            raise ValidationError(refused.sentence) from refused

    return check


def _blank_choice(field: Field) -> str:
    """Why a blank is no answer to a list that has none: Optional alone would let it through."""
    if not isinstance(field, SelectField) or not field.validate_choice or field.data != "":
        return ""
    choices: Iterable[Any] = field.iter_choices()  # typed as tuples still; they have names by now
    return "" if any(choice.selected for choice in choices) else "Choose one of these."


def _device_time(text: str) -> datetime | None:
    try:
        moment = datetime.fromisoformat(text.replace("Z", "+00:00"))
    except ValueError:
        return None
    return moment if moment.tzinfo is not None else None
