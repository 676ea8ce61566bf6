"""The stock book, fifty lines a page."""

from flask import g, render_template, request

from hatchery_app.database import session as records
from hatchery_app.services import stock_book_page
from hatchery_app.web.stock_book import presenter


def show() -> str:
    """Balances, movements and what no count explains."""
    number = request.args.get("page", 1, type=int)
    number = max(1, min(number, 100_000))
    book = stock_book_page.stock_book_page(records, now=g.now, page=number)
    return render_template("stock_book/show.html", page=presenter.show(book, g.room.room_time))
