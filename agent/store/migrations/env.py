"""Runs the migrations in the transaction that agent.store.migrate hands over."""

from alembic import context

from agent.store.schema import metadata

context.configure(connection=context.config.attributes["connection"], target_metadata=metadata)
with context.begin_transaction():
    context.run_migrations()
