"""Today, opened at the round that it is now, and the answers to its lines."""

from flask import current_app, g, render_template, request, url_for
from werkzeug.wrappers import Response

from hatchery_app.database import session as records
from hatchery_app.domain.errors import NotKnown
from hatchery_app.domain.today.schedule import Round, TaskState
from hatchery_app.services.species.library import library
from hatchery_app.services.today import task_answer, today, today_facts
from hatchery_app.services.today.today import TodayPage
from hatchery_app.web.addresses import back_to_line
from hatchery_app.web.entry_form import EntryForm, take
from hatchery_app.web.today import otherwise_presenter, presenter, sheet_presenter, tonight_pages
from hatchery_app.web.today.forms import DoneForm, LetGoForm, OtherwiseForm, PutOffForm, UndoForm

NOW = "now"  # ?round=now shows the round even in the dark, where the first page is tonight's
Answered = Response | tuple[str, int] | str


def show() -> str:
    """The round that it is now; in the dark of a hatch night, the first clutch to look at."""
    facts = today_facts.load_day(records, library(), room=g.room, now=g.now)
    wanted = request.args.get("round", "")
    if not wanted and facts.tonight.is_it_now:
        return tonight_pages.shown(facts.tonight, facts.tonight.watches[0].clutch_id)
    return _shown(today.today_page(records, facts), wanted)


def sheet() -> str:
    """The whole day on paper."""
    page = sheet_presenter.sheet(_today(), frozenset(current_app.view_functions))
    return render_template("today/sheet_show.html", page=page)


def done() -> Answered:
    """One tap: this line is done, or all that stands at a stop."""
    form = DoneForm()
    return take(
        form,
        record=lambda posting: task_answer.answer_done(
            records, posting=posting, tasks=form.tasks()),
        then=lambda _fact: _back(form),
        show=lambda: _shown(_today(), request.args.get("round", ""), form),
    )  # fmt: skip


def put_off() -> Answered:
    """What is open in a round waits for a later one."""
    form = PutOffForm()
    return take(
        form,
        record=lambda posting: task_answer.put_off(
            records, posting=posting, tasks=form.tasks(), until=form.turn()),
        then=lambda _count: _back(form),
        show=lambda: _shown(_today(), request.args.get("round", ""), form),
    )  # fmt: skip


def let_go() -> Answered:
    """One tap after a bad day: the rest of what repeats is let go."""
    form = LetGoForm()
    page = _today()
    return take(
        form,
        record=lambda posting: task_answer.let_go_of(
            records, posting=posting, tasks=[str(name) for name in page.to_let_go]),
        then=lambda _count: url_for("today.show", round=NOW),
        show=lambda: _shown(page, "", form),
        said="The rest of yesterday is let go. What comes but once still stands.",
    )  # fmt: skip


def otherwise() -> Answered:
    """Done differently, put off, skipped; or an answer changed."""
    form = OtherwiseForm()
    page = _today()
    line = page.line(request.values.get("task", ""))
    return take(
        form,
        record=lambda posting: task_answer.answer_task(
            records, posting=posting, task=str(line.task.name), outcome=form.outcome(),
            reason=form.reason.data or "", really=form.really.data or "", until=form.turn()),
        then=lambda _fact: _back(form),
        show=lambda: render_template(
            "today/otherwise_form.html",
            page=otherwise_presenter.otherwise(
                page, line, form, request.values.get("line", ""), _along(page, line))),
    )  # fmt: skip


def undo_answer() -> Answered:
    """An answer taken back: the line stands open again."""
    form = UndoForm()
    return take(
        form,
        record=lambda posting: task_answer.take_answer_back(
            records, posting=posting, fact_id=form.fact_id.data or 0,
            all_of_tap=bool(form.all_of_tap.data)),
        then=lambda _fact: _back(form),
        show=lambda: _shown(_today(), "", form),
    )  # fmt: skip


def _today() -> TodayPage:
    facts = today_facts.load_day(records, library(), room=g.room, now=g.now)
    return today.today_page(records, facts)


def _shown(page: TodayPage, wanted: str, form: EntryForm | None = None) -> str:
    named = page.turn.round if wanted in ("", NOW) else _round(wanted)
    known = frozenset(current_app.view_functions)
    refused = form.sentence if form is not None else ""
    view = presenter.day(page, named, known, refused, request.args.get("open", ""))
    return render_template("today/show.html", page=view)


def _round(word: str) -> Round:
    try:
        return Round(word)
    except ValueError as reason:
        raise NotKnown(f"A day has no round “{word}”.") from reason


def _along(page: TodayPage, line: TaskState) -> int:
    answer_id = page.answer_ids.get(line.task.name)
    return task_answer.answered_along(records, answer_id) if answer_id is not None else 0


def _back(form: EntryForm) -> str:
    return back_to_line(request.form.get("round") or NOW)
