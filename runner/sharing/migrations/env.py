"""Run by Alembic: the connection is handed in by runner.sharing.database, nothing is read from a file."""

from alembic import context

context.configure(connection=context.config.attributes["connection"], transactional_ddl=True)
with context.begin_transaction():
    context.run_migrations()
