"""Alembic's environment; see ``carbpair.cases.migrate``."""
