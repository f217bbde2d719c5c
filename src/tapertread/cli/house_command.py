"""One kind of command for the whole house: ``--json``, an example, refusals as exit status 1."""

from __future__ import annotations

import errno
from collections.abc import Callable, Mapping

import click

from tapertread.cli.answers import REFUSED, Answer, give, give_refusal
from tapertread.errors import FileRefused, RefusedInput, Where, WrongUsage

Body = Callable[..., Answer]
JSON_HELP = "Print one JSON object instead of text."


class HouseCommand(click.Command):
    """A command whose body returns an `Answer`; what it raises on purpose becomes exit status.

    Attributes
    ----------
    keys : mapping of str to str
        Every key of its JSON object and what stands there.
    """

    keys: Mapping[str, str]

    def invoke(self, ctx: click.Context) -> None:
        """Run the body and print its answer; exit with 1 on refused input, 2 on wrong usage."""
        as_json = bool(ctx.params.pop("as_json"))
        try:
            answer: Answer = super().invoke(ctx)
        except RefusedInput as refused:
            give_refusal(refused, as_json=as_json)
            ctx.exit(REFUSED)
        except WrongUsage as wrong:
            raise click.UsageError(str(wrong), ctx=ctx) from None
        except OSError as trouble:
            if trouble.errno == errno.EPIPE:
                raise
            give_refusal(_refusal_of(trouble), as_json=as_json)
            ctx.exit(REFUSED)
        give(answer, as_json=as_json)
        ctx.exit(answer.status)


def _refusal_of(trouble: OSError) -> FileRefused:
    """Return trouble with a file or folder as a refusal that names it."""
    return FileRefused(
        "file-trouble",
        (trouble.strerror or str(trouble)).lower(),
        allowed="files that can be read, folders that can be written",
        todo="check the path, its permissions and the free space",
        where=Where(file=None if trouble.filename is None else str(trouble.filename)),
    )


def house_command(
    name: str, *, example: str, keys: Mapping[str, str]
) -> Callable[[Body], HouseCommand]:
    """Return a decorator that makes a command of a function that returns an `Answer`.

    Parameters
    ----------
    name : str
        Name of the command.
    example : str
        One whole call that works, shown at the end of its help.
    keys : mapping of str to str
        Every key of its JSON object and what stands there, for the documentation.
    """

    def make(body: Body) -> HouseCommand:
        command = click.command(
            name,
            cls=HouseCommand,
            epilog=f"Example:\n\n\b\n    {example}",
            context_settings={"help_option_names": ["-h", "--help"], "show_default": True},
        )(body)
        command.params.append(click.Option(["--json", "as_json"], is_flag=True, help=JSON_HELP))
        command.keys = keys
        return command

    return make
