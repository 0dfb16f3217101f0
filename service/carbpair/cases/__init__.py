"""Cases: photographs, results, corrections and the audit trail, kept in a database.

Nothing in this package knows of the web; ``carbpair.http`` and the worker build on it.
"""
