"""``cutplan manual``: the pages of the manual, offline."""

from __future__ import annotations

import click

from cutplan.cli.exits import exits
from cutplan.cli.screen import console
from cutplan.manual import TOPICS, page


@click.command()
@click.argument("topic", required=False, type=click.Choice(list(TOPICS), case_sensitive=False))
def manual(topic: str | None) -> None:
    """Read the manual, one page at a time; without a topic, list the pages.

    \b
    Example:
      cutplan manual job
    """
    with exits():
        if topic is None:
            width = max(map(len, TOPICS))
            click.echo("The pages of the manual; read one with: cutplan manual TOPIC\n")
            for name, about in TOPICS.items():
                click.echo(f"  {name:<{width}}  {about}")
            return
        text = page(topic)
        screen = console()
        if not screen.is_terminal:
            click.echo(text, nl=False)
            return
        from rich.markdown import Markdown

        with screen.capture() as shown:
            screen.print(Markdown(text, hyperlinks=False))
        click.echo_via_pager(shown.get(), color=True)
