"""Run by Alembic: takes the connection, and its open transaction, that it is given."""

from alembic import context

from station.keep.store.tables import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    render_as_batch=True,
    transactional_ddl=True,
)
with context.begin_transaction():
    context.run_migrations()
