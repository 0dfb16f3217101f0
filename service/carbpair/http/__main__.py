"""Lets ``python -m carbpair.http work`` start a worker without the rest of the command line."""

import typer

from carbpair.http.cli import register

if __name__ == "__main__":
    app = typer.Typer()
    register(app)
    app()
