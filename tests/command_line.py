"""The command line as the tests call it."""

from typer.testing import CliRunner, Result

from dashboard.command import app


def called(*arguments: object) -> Result:
    """What a command answers, called as it is from a shell."""
    return CliRunner().invoke(app, [str(argument) for argument in arguments], prog_name="kitmuster")
