"""The command `mixledger`: finds its commands by file name and loads only the one that is called."""

import sys
from importlib import import_module
from pathlib import Path
from pkgutil import iter_modules

import click

from pipeline.cli.exit_codes import EXIT_CODES, FAULT, problem_of

_NOT_COMMANDS = {"group", "exit_codes", "output", "waiting"}


class LazyGroup(click.Group):
    """A group whose commands are the modules beside it."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the command names, in alphabetical order."""
        folder = str(Path(__file__).parent)
        return sorted(
            module.name.replace("_", "-") for module in iter_modules([folder]) if module.name not in _NOT_COMMANDS
        )

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Load one command."""
        if cmd_name not in self.list_commands(ctx):
            return None
        command = import_module(f"pipeline.cli.{cmd_name.replace('-', '_')}").command
        return command if isinstance(command, click.Command) else None

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Resolve a command; a near miss is named."""
        from difflib import get_close_matches

        try:
            return super().resolve_command(ctx, args)
        except click.UsageError as fault:
            near = get_close_matches(args[0], self.list_commands(ctx), n=1)
            if not near or "Did you mean" in fault.message:
                raise
            raise click.UsageError(f"{fault.message} Did you mean '{near[0]}'?", ctx) from fault


def _epilog() -> str:
    lines = "\n".join(f"  {code}  {meaning}" for code, meaning in EXIT_CODES.items())
    return f"\b\nExit codes:\n{lines}"


@click.command(
    cls=LazyGroup,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    epilog=_epilog(),
)
@click.option(
    "-w",
    "--workspace",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path(),
    show_default="this folder",
    help="The workspace to work in.",
)
@click.version_option(package_name="mixledger", prog_name="mixledger")
@click.pass_context
def group(context: click.Context, workspace: Path) -> None:
    """Turn what the instruments of an asphalt laboratory export into checked, traceable mix results.

    \b
    Examples:
      mixledger demo                      see it work on invented laboratories
      mixledger init lab                  make a workspace in the folder `lab`
      mixledger -w lab check FILE         what would be read of a file; writes nothing
      mixledger -w lab run                take in what lies in lab/inbox
      mixledger -w lab sql "select * from sample_results limit 5"
    """
    context.obj = workspace


def main() -> None:
    """Run the command line; no traceback reaches a user."""
    try:
        left_with = group.main(standalone_mode=False)  # click hands the code of `Exit` back instead of raising it
        sys.exit(left_with if isinstance(left_with, int) else 0)
    except click.Abort:
        click.echo("stopped", err=True)
        sys.exit(130)
    except click.ClickException as fault:
        fault.show()
        sys.exit(fault.exit_code)
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(0)
    except Exception as fault:
        known = problem_of(fault)
        if known is None:
            click.echo(
                f"mixledger met a fault of its own: {type(fault).__name__}: {fault}\n"
                "Nothing already stored is harmed. Please report it with this line and the command you gave.",
                err=True,
            )
            sys.exit(FAULT)
        message, code = known
        click.echo(f"Error: {message}", err=True)
        sys.exit(code)
