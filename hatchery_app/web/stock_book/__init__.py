"""Stock book: every fish in and every fish out, and what is unexplained."""

from flask import Blueprint

from hatchery_app.web.stock_book import pages

blueprint = Blueprint("stock_book", __name__, url_prefix="/stock-book")
blueprint.add_url_rule("/", "show", pages.show)
