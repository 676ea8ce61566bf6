"""Stock book: every fish in and every fish out, and what is unexplained."""

from flask import Blueprint

from hatchery_app.web.stock_book import pages, survival_pages

blueprint = Blueprint("stock_book", __name__, url_prefix="/stock-book")
blueprint.add_url_rule("/", "show", pages.show)
blueprint.add_url_rule("/survival", "survivals", survival_pages.show_list)
blueprint.add_url_rule("/survival/<key>", "survival", survival_pages.show)
