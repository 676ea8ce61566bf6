"""Every address of the program, asked with what is there, what is not, and with rubbish.

A page may refuse and may not know; it never breaks, and what it refuses it does not half keep.
"""

import re
from collections import Counter
from collections.abc import Iterator
from html.parser import HTMLParser

import pytest
from flask import Flask
from flask.testing import FlaskClient
from freezegun import freeze_time
from sqlalchemy import func, select
from sqlalchemy.orm import Session
from werkzeug.routing import Rule

from hatchery_app.models.entry import Entry, Receipt
from tests.whole_room import NOW, WholeRoom, furnish

NAMES_NOTHING = (0, 2_147_483_648, 99_999_999_999_999_999_999)
IN_ALL_FIELDS = (
    "", "-1", "٣", "1e3", "NaN", "<script>", "x" * 10_000, "9" * 5_000, "9999-12-31", "\0",
)  # fmt: skip
IN_ONE_FIELD = "9" * 20
EVERY_FACT_HAS = {
    "key", "note", "noted_at", "answer-fold", "from_memory", "when_how",
    "at_on", "at_time", "from_on", "from_time", "until_on", "until_time",
}  # fmt: skip
ENOUGH_FORMS = 3  # of those that read a field of one name by the same code
LETS_THE_READER_OUT = {"records.sign_out", "records.sign_out_everywhere"}


@pytest.fixture(autouse=True)
def in_november() -> Iterator[None]:
    with freeze_time(NOW):
        yield


@pytest.fixture
def whole_room(session: Session, client: FlaskClient) -> WholeRoom:
    return furnish(session, client)


class Typed(HTMLParser):
    """What a browser would send of a page's forms if nothing were changed."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.fields: dict[str, str] = {}
        self._select = ""
        self.feed(page)
        for word in ("key", "csrf_token", "to", "back"):
            self.fields.pop(word, None)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = dict(attrs)
        name, value = said.get("name") or "", said.get("value") or ""
        if tag == "option" and self._select:
            if "selected" in said or not self.fields[self._select]:
                self.fields[self._select] = value
        elif not name:
            return
        elif tag == "input" and said.get("type") in ("radio", "checkbox"):
            if "checked" in said or name not in self.fields:
                self.fields[name] = (value or "y") if "checked" in said else ""
        elif tag in ("input", "textarea", "select"):
            self.fields[name] = value
            self._select = name if tag == "select" else self._select


class NamedTwice(HTMLParser):
    """Fields of one form with one name, which a browser sends as two answers to one question."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: set[str] = set()
        self._seen: set[str] = set()
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = dict(attrs)
        name, kind = said.get("name") or "", said.get("type") or "text"
        if tag == "form":
            self._seen = set()
        elif name and tag in ("input", "textarea", "select") and kind not in (
            "radio", "checkbox", "submit"
        ):  # fmt: skip
            self.found |= self._seen & {name}
            self._seen.add(name)


def address(rule: Rule, named: dict[str, int | str]) -> str:
    """A rule's address with its names filled in; a carried brood's stands for its clutch, and
    the tank of live food is a vessel."""
    if "brood" in rule.endpoint:
        named = named | {"clutch_id": named["brood_id"]}
    if rule.endpoint.startswith("live_food.") and named["tank_id"] == named["home_id"]:
        named = named | {"tank_id": named["vessel_id"]}
    return re.sub(r"<(?:\w+:)?(\w+)>", lambda part: str(named[part[1]]), rule.rule)


def rules(app: Flask, method: str) -> list[Rule]:
    listed = (rule for rule in app.url_map.iter_rules() if rule.endpoint != "static")
    return sorted((rule for rule in listed if method in (rule.methods or ())), key=str)


def stored(session: Session) -> list[int]:
    numbers = [session.scalar(select(func.count()).select_from(one)) for one in (Entry, Receipt)]
    session.rollback()
    return [number or 0 for number in numbers]


def wrong_addresses(rule: Rule, room: WholeRoom) -> list[str]:
    """The rule's address with each id replaced by none, one too large, and other kinds' ids."""
    ids = [name for name in rule.arguments if name.endswith("_id")]
    others = (*NAMES_NOTHING, *room.every_fact[::20])
    return [address(rule, room.named | {name: wrong}) for name in ids for wrong in others]


def typed_fields(client: FlaskClient, rule: Rule, at: str) -> dict[str, str]:
    if "GET" not in rule.methods:
        return {"task": "", "note": "", "back": "", "to": "", "fact_id": "", "tank_id": ""}
    return Typed(client.get(at).text).fields | {"key": "", "noted_at": "", "answer-fold": ""}


@pytest.mark.long
def test_every_page_answers_for_what_is_there_and_for_what_is_not(
    app: Flask, client: FlaskClient, whole_room: WholeRoom
) -> None:
    for rule in rules(app, "GET"):
        there = client.get(address(rule, whole_room.named))
        assert there.status_code in (200, 302, 303, 404), (rule.rule, there.status_code)
        if there.mimetype == "text/html":
            assert not (twice := NamedTwice(there.text).found), (rule.rule, twice)
        for wrong in wrong_addresses(rule, whole_room):
            assert client.get(wrong).status_code < 500, wrong
        assert client.get(address(rule, whole_room.named) + "?page=9" + "9" * 30).status_code < 500


def test_a_post_about_what_is_not_there_is_refused(
    app: Flask, client: FlaskClient, session: Session, whole_room: WholeRoom
) -> None:
    for rule in rules(app, "POST"):
        for name in [name for name in rule.arguments if name.endswith("_id")]:
            for wrong in NAMES_NOTHING:
                before = stored(session)
                at = address(rule, whole_room.named | {name: wrong, "brood_id": wrong})
                assert 300 <= client.post(at, data={"note": "seen"}).status_code < 500, at
                assert stored(session) == before, at


def rubbish_forms(fields: dict[str, str], tried: Counter[str]) -> Iterator[dict[str, str]]:
    """All fields full of one kind of rubbish, then each by itself; what many share, in some."""
    yield from (dict.fromkeys(fields, rubbish) for rubbish in IN_ALL_FIELDS)
    for how in ("at", "between") if "when_how" in fields else ("",):
        for name in fields:
            part = f"{how} {name}"
            if (how == "between" and name[:5] not in ("from_", "until")) or (
                tried[part] >= ENOUGH_FORMS and name in EVERY_FACT_HAS
            ):
                continue
            tried[part] += 1
            yield fields | {"when_how": how, name: IN_ONE_FIELD}


# Half a minute, and the refusals are made before any table is asked: one engine will do.
@pytest.mark.long
@pytest.mark.parametrize("engine_app", ["sqlite"], indirect=True)
def test_rubbish_in_any_field_is_refused_in_words_and_nothing_of_it_is_kept(
    app: Flask, client: FlaskClient, session: Session, whole_room: WholeRoom
) -> None:
    tried: Counter[str] = Counter()
    for rule in rules(app, "POST"):
        if rule.endpoint in LETS_THE_READER_OUT:
            continue
        at = address(rule, whole_room.named)
        before = stored(session)
        for form in rubbish_forms(typed_fields(client, rule, at), tried):
            answer = client.post(at, data=form)
            odd = {name: said[:40] for name, said in form.items() if said}
            assert 300 <= answer.status_code < 500, (at, odd)
            after = stored(session)
            assert answer.status_code == 303 or after == before, (at, odd)
            before = after


def test_without_its_token_no_form_is_stored_and_all_that_was_typed_comes_back(
    app: Flask, client: FlaskClient, session: Session, whole_room: WholeRoom
) -> None:
    app.config["WTF_CSRF_ENABLED"] = True
    try:
        for rule in rules(app, "POST"):
            at = address(rule, whole_room.named)
            fields = typed_fields(client, rule, at)
            before = stored(session)
            answer = client.post(at, data=fields | {"note": "a ragged fin"})
            assert answer.status_code in (302, 303, 404, 422), at
            assert stored(session) == before, at
            if 'name="note"' in answer.text:
                assert "a ragged fin" in answer.text, at
    finally:
        app.config["WTF_CSRF_ENABLED"] = False
