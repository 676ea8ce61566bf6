"""How many went, as keepers say it on a form: a number, or all that are there."""

from wtforms import BooleanField, StringField

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.how_many import HowMany, parse


class SomeOrAll:
    """Mix into an EntryForm that has a `number` and a tick `everyone` for all of them."""

    number: StringField
    everyone: BooleanField

    def read_number(self) -> HowMany | None:
        """How many; None for all of them. Raises RuleBroken where neither was said."""
        if self.everyone.data:
            return None
        if not (self.number.data or "").strip():
            ticked = self.everyone.label.text
            raise RuleBroken(f"Say how many, or tick “{ticked}”.", field="number")
        return parse(self.number.data or "", "number")
