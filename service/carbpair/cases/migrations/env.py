"""Alembic's entry: runs on the connection that ``carbpair.cases.migrate`` hands over."""

from alembic import context

from carbpair.cases.schema import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    render_as_batch=True,
)
with context.begin_transaction():
    context.run_migrations()
