"""The command line: ``grainfold serve``. One line for an error, exit 1; not built yet, exit 2."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from nesting.errors import NestingError
from service.errors import ServiceError
from service.errors_http import describe

app = typer.Typer(
    name="grainfold",
    help="From drafted pieces to correctly cut cloth. A bare number is mm.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)


@app.callback()
def _grainfold() -> None:
    """From drafted pieces to correctly cut cloth."""


@app.command()
def serve(
    host: Annotated[str | None, typer.Option(help="address to listen on")] = None,
    port: Annotated[int | None, typer.Option(help="8765 unless told; taken: any free one")] = None,
    data: Annotated[Path | None, typer.Option(help="directory of all that is kept")] = None,
) -> None:
    """Start the service and print the address of the desk."""
    from service import server
    from service.app import create_app
    from service.logs import set_up_logs
    from service.settings import read_settings

    settings = read_settings(host=host, port=port, data=data)
    set_up_logs(as_json=settings.log_json)
    service = create_app(settings)
    listening = server.bind(settings.host, settings.port)
    address = server.address_of(listening)
    if settings.port and not address.endswith(f":{settings.port}/"):
        print(f"Port {settings.port} is taken; a free one is used.", flush=True)
    server.run(
        service, listening, ready=lambda: print(f"The desk: {address}   (Ctrl+C ends)", flush=True)
    )


def main() -> None:
    """Entry of the ``grainfold`` command."""
    try:
        app()
    except (ServiceError, NestingError) as error:
        _, shape = describe(error)
        print(f"grainfold: {shape.as_line()}", file=sys.stderr)
        raise SystemExit(2 if shape.code == "not_offered" else 1) from None
