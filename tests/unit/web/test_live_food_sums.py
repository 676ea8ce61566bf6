"""The sums: each answers its example, what is typed, and what cannot be, in a sentence."""

import pytest
from flask.testing import FlaskClient

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.web.live_food.sums_presenter import RULES, shown


def lead(**typed: str) -> tuple[str, tuple[str, ...]]:
    key = typed["sum"]
    values = {one.name: one.value for one in RULES[key].fields} | typed
    (found,) = [one for one in shown(values).sums if one.key == key]
    assert found.answer is not None, (found.refused, found.fields)
    return found.answer.lead, found.answer.more


def refused(**typed: str) -> str:
    key = typed["sum"]
    values = {one.name: one.value for one in RULES[key].fields} | typed
    (found,) = [one for one in shown(values).sums if one.key == key]
    assert found.answer is None
    return found.refused or next(one.refused for one in found.fields if one.refused)


def test_every_example_works_and_says_formula_and_source() -> None:
    page = shown({})
    assert not page.is_refused
    assert all(one.answer and one.formula and one.source for one in page.sums)
    assert [one.key for one in page.sums] == [
        "count", "squares", "error", "dose", "cysts", "harvest",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("typed", "answer"),
    [
        # The worked and published examples, by the page's own figures.
        ({"sum": "count", "counts": "28 31 34", "dilution": "10"}, "310 per mL (240–380)"),
        ({"sum": "squares", "counts": "20, 30, 25, 28", "squares": "LARGE_SQUARE"}, "257,500"),
        ({"sum": "squares", "counts": "6 6 6 6 6 6 6 6 6 6"}, "1,500,000 cells per mL"),
        ({"sum": "squares", "counts": "42 37 45 40 36", "dilution": "10"}, "100,000,000"),
        ({"sum": "error", "counted": "100"}, "±19.6 %"),
        ({"sum": "error", "counted": "200"}, "±13.9 %"),
        ({"sum": "dose"}, "507.6 mL"),
        ({"sum": "dose", "litres": "40 L", "residual": "50 000", "target": "0.3 million"}, "507.6"),
        ({"sum": "dose", "residual": "0", "stock": "", "dry": "18"}, "0.40 mL"),
        ({"sum": "cysts"}, "0.375 g of cysts in 190 mL"),
        ({"sum": "cysts", "enrich_h": "0"}, "0.319 g of cysts in 160 mL"),
        ({"sum": "harvest", "percent": "40"}, "needs r 0.511 a day"),
    ],
)
def test_a_sum_answers_as_published(typed: dict[str, str], answer: str) -> None:
    assert answer in lead(**typed)[0]


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"sum": "count", "eggs": "60"}, "0.65 eggs each, growing"),
        ({"sum": "count", "counts": "10 60 20"}, "stir, and count again"),
        ({"sum": "squares", "counts": "6 6", "volume_ml": "5"}, "7,500,000 cells in 5 mL"),
        ({"sum": "squares", "dilution": "10", "counts": "60"}, "look at the dilution first"),
        ({"sum": "error", "counted": "100"}, "±20.0 % where a guide multiplies by 2"),
        ({"sum": "error"}, "count 385 in all"),
        ({"sum": "cysts", "hours": "24"}, "50 h before they are fed: start at 06:00 2 days before"),
        ({"sum": "cysts", "hours": "24 h", "temperature": ""}, "in 24 h (the lot's own hours)"),
        ({"sum": "cysts", "temperature": "26"}, "they hatch in 27 h (at 26 °C, common practice)"),
        ({"sum": "dose", "dry": "18"}, "the stock above is left out"),
        ({"sum": "cysts"}, "enriched in 390 mL"),
        ({"sum": "cysts", "nauplii": "20000"}, "round up"),
        ({"sum": "harvest"}, "0.57 million a day in the sieve"),
        ({"sum": "harvest", "rate": "0.34"}, "It sinks"),
        ({"sum": "harvest", "percent": "40"}, "+66.7 % a day, 2.15 % an hour; median age 33 h"),
    ],
)
def test_a_sum_says_what_goes_with_it(typed: dict[str, str], says: str) -> None:
    assert any(says in line for line in lead(**typed)[1])


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"sum": "count", "counts": ""}, "Write each sample's number"),
        ({"sum": "count", "counts": "3x"}, "Write each sample's number"),
        ({"sum": "count", "dilution": "0.5"}, "A dilution is 1 or more"),
        ({"sum": "squares", "squares": "round"}, "which squares"),
        ({"sum": "error", "counted": "0"}, "1 or more"),
        ({"sum": "dose", "stock": "200000"}, "no amount of it reaches that"),
        ({"sum": "dose", "residual": "400000"}, "nothing to add"),
        ({"sum": "dose", "stock": ""}, "stock's cells per mL"),
        ({"sum": "dose", "litres": "60 mL"}, "Write a figure"),  # no other unit is guessed at
        ({"sum": "cysts", "temperature": "18", "hours": ""}, "Between 21 and 30 °C"),
        ({"sum": "cysts", "nauplii": ""}, "Write a figure here"),
        ({"sum": "harvest", "percent": "100"}, "Less than all"),
        ({"sum": "harvest", "percent": "NaN"}, "above 0"),
    ],
)
def test_what_cannot_be_gets_a_sentence(typed: dict[str, str], says: str) -> None:
    assert says in refused(**typed)


@pytest.mark.parametrize("rubbish", ["", "-1", "NaN", "1e999", "x" * 500, "٣", "<b>", "9" * 60])
@pytest.mark.parametrize("key", RULES)
def test_rubbish_never_breaks_a_sum(key: str, rubbish: str) -> None:
    for one in RULES[key].fields:
        values = {each.name: each.value for each in RULES[key].fields} | {one.name: rubbish}
        try:
            shown(values | {"sum": key})
        except RuleBroken as escaped:  # pragma: no cover
            pytest.fail(f"{key} {one.name}: {escaped.sentence}")


def test_the_page_is_asked_by_its_address_and_refuses_in_words(client: FlaskClient) -> None:
    page = client.get("/live-food/sums")
    assert page.status_code == 200
    assert page.text.count("data-sum-answer") == 6
    asked = client.get("/live-food/sums?sum=error&counted=97&wanted=20")
    assert "±19.9 %" in asked.text
    wrong = client.get("/live-food/sums?sum=error&counted=few&wanted=20")
    assert wrong.status_code == 422
    assert "Write a whole number." in wrong.text
    assert 'value="few"' in wrong.text
    assert 'href="/live-food/sums"' in client.get("/live-food/").text
