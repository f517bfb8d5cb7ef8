"""Alembic runs the migrations inside the transaction the program has begun."""

from alembic import context

from discwright.works.store.tables import metadata

context.configure(
    connection=context.config.attributes["connection"], target_metadata=metadata, render_as_batch=True,
    transaction_per_migration=False,
)  # fmt: skip
context.run_migrations()
