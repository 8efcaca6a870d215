"""Entry point of Alembic: runs the migrations on the connection it was handed, inside that connection's transaction."""

from alembic import context

from wringout.store.schema import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    transactional_ddl=True,
    render_as_batch=True,
)
with context.begin_transaction():
    context.run_migrations()
