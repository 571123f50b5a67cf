"""What alembic runs: the revisions, on the connection and in the transaction it was handed."""

from alembic import context

context.configure(connection=context.config.attributes["connection"], version_table="casebook")
context.run_migrations()
