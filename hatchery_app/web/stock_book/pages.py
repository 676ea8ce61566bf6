"""The stock book, fifty lines a page."""

from flask import g, render_template

from hatchery_app.database import session as records
from hatchery_app.services import stock_book_page
from hatchery_app.web import whole_numbers
from hatchery_app.web.stock_book import presenter


def show() -> str:
    """Balances, movements and what no count explains."""
    number = whole_numbers.asked_for("page", 1)
    number = max(1, min(number, 100_000))
    book = stock_book_page.stock_book_page(records, now=g.now, page=number)
    return render_template("stock_book/show.html", page=presenter.show(book, g.room.room_time))
