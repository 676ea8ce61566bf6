"""The last night that a hatch found late may have been on.

Those found between two looks stood as of one sure night, that of the middle. What was said is
kept whole in their moments, so their nights are worked out from it, by the room's own lamp.
"""

from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None

ENTRY = sa.table(
    "entry",
    *(sa.column(name, sa.Integer) for name in ("seq", "fact_id", "superseded_seq")),
    *(
        sa.column(name, sa.DateTime(timezone=True))
        for name in ("happened_earliest", "happened_latest")
    ),
)
HATCH = sa.table(
    "hatch",
    sa.column("seq", sa.Integer),
    sa.column("night_on", sa.Date),
    sa.column("last_night_on", sa.Date),
)
ROOM = sa.table("room_facts", sa.column("seq", sa.Integer), sa.column("zone_name", sa.String))
LAMPS = sa.table(
    "light_hours",
    sa.column("seq", sa.Integer),
    sa.column("tank_id", sa.Integer),
    sa.column("rack", sa.String),
    sa.column("on_at", sa.Time),
    sa.column("off_at", sa.Time),
)
A_DAY = timedelta(days=1)


def upgrade() -> None:
    op.add_column("hatch", sa.Column("last_night_on", sa.Date(), nullable=True))
    connection = op.get_bind()
    zone_name = connection.scalar(_newest(sa.select(ROOM.c.zone_name), ROOM))
    of_room = sa.select(LAMPS.c.on_at, LAMPS.c.off_at).where(
        LAMPS.c.tank_id.is_(None), LAMPS.c.rack == ""
    )
    lamp = connection.execute(_newest(of_room, LAMPS)).first()
    if zone_name is None or lamp is None:
        return
    # A night that was corrected is the keeper's own word: only first entries are read again.
    found_late = (
        sa.select(ENTRY.c.seq, ENTRY.c.happened_earliest, ENTRY.c.happened_latest)
        .join(HATCH, HATCH.c.seq == ENTRY.c.seq)
        .where(
            ENTRY.c.fact_id == ENTRY.c.seq,
            ENTRY.c.superseded_seq.is_(None),
            ENTRY.c.happened_earliest < ENTRY.c.happened_latest,
        )
    )
    for seq, earliest, latest in connection.execute(found_late).all():
        first, last = _nights(earliest, latest, ZoneInfo(zone_name), lamp.on_at, lamp.off_at)
        if first < last:
            connection.execute(
                HATCH.update().where(HATCH.c.seq == seq).values(night_on=first, last_night_on=last)
            )


def downgrade() -> None:
    raise NotImplementedError("Records only go forward; restore a copy instead.")


def _newest(query: sa.Select[Any], table: sa.TableClause) -> sa.Select[Any]:
    return (
        query.join_from(table, ENTRY, ENTRY.c.seq == table.c.seq)
        .where(ENTRY.c.superseded_seq.is_(None))
        .order_by(ENTRY.c.seq.desc())
        .limit(1)
    )


def _nights(
    earliest: datetime, latest: datetime, zone: ZoneInfo, on: time, off: time
) -> tuple[date, date]:
    """The night begun or to come at the earlier look, and the last begun at the later."""
    first, last = (_night_of(at, zone, on) for at in (earliest, latest))
    dark_from = datetime.combine(last + A_DAY if off < on else last, off, tzinfo=zone)
    if _in_utc(latest) < dark_from:
        last -= A_DAY
    return first, last


def _night_of(at: datetime, zone: ZoneInfo, on: time) -> date:
    wall = _in_utc(at).astimezone(zone)
    return wall.date() if wall.time() >= on else wall.date() - A_DAY


def _in_utc(at: datetime) -> datetime:
    return at.replace(tzinfo=UTC) if at.tzinfo is None else at
