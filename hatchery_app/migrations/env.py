"""Alembic's environment. The launcher hands over an open connection; nothing else runs it."""

from alembic import context
from sqlalchemy import Connection

connection: Connection = context.config.attributes["connection"]

if connection.dialect.name == "sqlite":
    # With foreign keys on, rebuilding a table silently empties the tables that cascade from it.
    raw = connection.connection.dbapi_connection
    assert raw is not None
    assert raw.execute("PRAGMA foreign_keys").fetchone()[0] == 0, "foreign keys must be off here"

context.configure(
    connection=connection,
    target_metadata=context.config.attributes.get("target_metadata"),
    render_as_batch=True,
    transactional_ddl=True,
    compare_type=True,
    render_item=context.config.attributes.get("render_item"),
)
with context.begin_transaction():
    context.run_migrations()
