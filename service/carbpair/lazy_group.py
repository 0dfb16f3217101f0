"""A command group that imports a command's module only when that command is run."""

import importlib
from typing import Any, ClassVar

import typer
import typer.core
import typer.main


class LazyGroup(typer.core.TyperGroup):
    """Group with commands that live in modules not yet imported.

    `later` maps a command's name to (module, short help); the module offers
    `register(app)`, which adds its commands to a typer app.
    """

    later: ClassVar[dict[str, tuple[str, str]]] = {}

    def list_commands(self, ctx: Any) -> list[str]:
        """Names of all commands, imported or not."""
        return [*super().list_commands(ctx), *self.later]

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        """Return the command, or a stand-in with its short help while not imported."""
        found = super().get_command(ctx, cmd_name)
        if found is not None or cmd_name not in self.later:
            return found
        return typer.core.TyperCommand(name=cmd_name, help=self.later[cmd_name][1])

    def resolve_command(self, ctx: Any, args: list[str]) -> Any:
        """Import the module of the command that is about to run."""
        name = args[0] if args else ""
        if name in self.later and name not in self.commands:
            app = typer.Typer()
            importlib.import_module(self.later[name][0]).register(app)
            # A second command keeps typer from folding a lone one into the group itself.
            app.command("_", hidden=True)(lambda: None)
            loaded: Any = typer.main.get_command(app)
            for key, command in loaded.commands.items():
                self.commands.setdefault(key, command)
            self.commands.pop("_", None)
        return super().resolve_command(ctx, args)
