"""Command `completion`: the script that teaches a shell to complete mixledger."""

import click
from click.shell_completion import get_completion_class


@click.command()
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
@click.pass_context
def command(context: click.Context, shell: str) -> None:
    """Print the completion script of a shell.

    \b
    Example:
      mixledger completion bash > ~/.local/share/bash-completion/completions/mixledger
    """
    kind = get_completion_class(shell)
    if kind is None:
        raise click.UsageError(f"no completion for {shell}")
    click.echo(kind(context.find_root().command, {}, "mixledger", "_MIXLEDGER_COMPLETE").source())
