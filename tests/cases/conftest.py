from tests.cases.fixtures import database_url, make_settings, postgres, workspace

__all__ = ["database_url", "make_settings", "postgres", "workspace"]
