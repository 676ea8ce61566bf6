"""Stock book: every fish in and every fish out, what is unexplained, and how it was counted."""

from flask import Blueprint

from hatchery_app.web.stock_book import count_pages, pages, picture_pages, survival_pages

BOTH = ["GET", "POST"]

blueprint = Blueprint("stock_book", __name__, url_prefix="/stock-book")
blueprint.add_url_rule("/", "show", pages.show)
blueprint.add_url_rule("/balances", "balances", pages.balances)
blueprint.add_url_rule("/batches/<int:holding_id>", "batch", pages.batch)
blueprint.add_url_rule("/survival", "survivals", survival_pages.show_list)
blueprint.add_url_rule("/survival/<key>", "survival", survival_pages.show)
blueprint.add_url_rule("/counts/<int:fact_id>", "count", count_pages.count)
blueprint.add_url_rule("/trials", "trials", count_pages.trials, methods=BOTH)
blueprint.add_url_rule(
    "/pictures/of/<int:about_id>", "picture_add", picture_pages.picture_add, methods=BOTH
)
blueprint.add_url_rule("/pictures/<int:photo_id>", "picture", picture_pages.picture, methods=BOTH)
blueprint.add_url_rule("/pictures/<int:photo_id>/image", "image", picture_pages.image)
