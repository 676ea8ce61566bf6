"""The stock book, fifty lines a page: of the room, and of one batch; and what was held when."""

from flask import g, render_template, request

from hatchery_app.database import session as records
from hatchery_app.services.stock_book import stock_balances, stock_batch_page, stock_book_page
from hatchery_app.services.stock_book.stock_balances import Per
from hatchery_app.web import whole_numbers
from hatchery_app.web.stock_book import balance_presenter, batch_presenter, presenter
from hatchery_app.web.stock_book.moment_forms import moment_asked

MOST_PAGES = 100_000


def show() -> str:
    """Balances, movements and what no count explains."""
    book = stock_book_page.stock_book_page(records, now=g.now, page=_page())
    return render_template("stock_book/show.html", page=presenter.show(book, g.room.room_time))


def batch(holding_id: int) -> str | tuple[str, int]:
    """The book of one batch, as known now or at a moment."""
    known = moment_asked("known")
    book = stock_batch_page.batch_book(
        records, holding_id=holding_id, page=_page(), known=known.moment
    )
    page = batch_presenter.show(book, g.room.room_time)
    shown = render_template("stock_book/batch_show.html", page=page, known=known)
    return (shown, 422) if known.refused else shown


def balances() -> str | tuple[str, int]:
    """What was held at a moment, as known now or at another."""
    per, at, known = request.args.get("per", Per.BATCH), moment_asked("at"), moment_asked("known")
    found = stock_balances.stock_balances(
        records, per=Per(per) if per in tuple(Per) else Per.BATCH, at=at.moment or g.now,
        known=known.moment, with_empty=request.args.get("empty") == "1",
    )  # fmt: skip
    page = balance_presenter.listed(found, at, known, request.args.get("empty") == "1")
    shown = render_template("stock_book/balance_list.html", page=page)
    return (shown, 422) if at.refused or known.refused else shown


def _page() -> int:
    return max(1, min(whole_numbers.asked_for("page", 1), MOST_PAGES))
