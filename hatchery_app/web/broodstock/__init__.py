"""Broodstock: the breeding fish, who is paired with whom, and who could step in."""

from flask import Blueprint

from hatchery_app.web.broodstock import fish_pages, group_pages, loss_pages, pages, pair_pages

BOTH = ["GET", "POST"]

blueprint = Blueprint("broodstock", __name__, url_prefix="/broodstock")
blueprint.add_url_rule("/", "show", pages.show)
blueprint.add_url_rule("/moving-in", "moving_in", pages.moving_in, methods=BOTH)
blueprint.add_url_rule("/rota", "rota", pages.rota, methods=BOTH)

blueprint.add_url_rule("/pairs/new", "new_pair", pair_pages.new_pair, methods=BOTH)
blueprint.add_url_rule("/pairs/<int:pair_id>", "pair", pair_pages.pair)
blueprint.add_url_rule("/pairs/<int:pair_id>/end", "end_pair", pair_pages.end_pair, methods=BOTH)
blueprint.add_url_rule(
    "/pairs/<int:pair_id>/again", "reopen_pair", pair_pages.reopen_pair, methods=["POST"]
)

blueprint.add_url_rule("/fish/new", "new_fish", fish_pages.new_fish, methods=BOTH)
blueprint.add_url_rule("/fish/<int:fish_id>", "fish", fish_pages.fish)
blueprint.add_url_rule("/fish/<int:fish_id>/change", "change_fish", fish_pages.change_fish,
                       methods=BOTH)  # fmt: skip
blueprint.add_url_rule("/fish/<int:fish_id>/sex", "sex", fish_pages.sex, methods=BOTH)
blueprint.add_url_rule("/fish/<int:fish_id>/species", "species", fish_pages.species, methods=BOTH)
blueprint.add_url_rule("/fish/<int:fish_id>/length", "length", fish_pages.length, methods=BOTH)
blueprint.add_url_rule("/fish/<int:fish_id>/beside", "beside", fish_pages.beside, methods=BOTH)
blueprint.add_url_rule("/fish/<int:fish_id>/tank", "place", fish_pages.place, methods=BOTH)
blueprint.add_url_rule("/fish/<int:fish_id>/bar", "bar", fish_pages.bar, methods=BOTH)
blueprint.add_url_rule("/bars/<int:bar_id>/lift", "lift_bar", fish_pages.lift_bar, methods=["POST"])
blueprint.add_url_rule("/fish/<int:fish_id>/delete", "delete_fish", fish_pages.delete_fish,
                       methods=BOTH)  # fmt: skip

blueprint.add_url_rule("/fish/<int:fish_id>/left", "left", loss_pages.left, methods=BOTH)
blueprint.add_url_rule("/fish/<int:fish_id>/after", "after_loss", loss_pages.after_loss)
blueprint.add_url_rule("/fish/<int:fish_id>/step-in", "step_in", loss_pages.step_in)
blueprint.add_url_rule("/leavings/<int:left_id>/back", "take_back", loss_pages.take_back,
                       methods=["POST"])  # fmt: skip

blueprint.add_url_rule("/groups/new", "new_group", group_pages.new_group, methods=BOTH)
blueprint.add_url_rule("/groups/<int:group_id>", "group", group_pages.group)
blueprint.add_url_rule("/groups/<int:group_id>/left", "group_left", group_pages.group_left,
                       methods=BOTH)  # fmt: skip
blueprint.add_url_rule("/groups/<int:group_id>/pair", "group_pair", group_pages.group_pair,
                       methods=BOTH)  # fmt: skip
