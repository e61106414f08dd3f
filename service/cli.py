"""The command line. One line for an error and exit 1; a wish not built yet: "not offered yet", exit 2."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from functools import wraps
from pathlib import Path
from typing import Annotated, NoReturn, ParamSpec, TypeVar

import typer

from calibration.errors import CalibrationError
from nesting.errors import NestingError
from service.errors import NotOfferedError, ServiceError

REFUSED, NOT_OFFERED = 1, 2
"""Exit codes; 2 is also what a wrong option gives."""

P = ParamSpec("P")
R = TypeVar("R")


app = typer.Typer(
    name="grainfold",
    help="From drafted pieces to correctly cut cloth. A bare number is mm.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)


def fail(error: Exception) -> NoReturn:
    """Print an error as one line and end with its exit code."""
    from service.errors_http import describe

    _, shape = describe(error)
    print(f"grainfold: {shape.as_line()}", file=sys.stderr)
    raise SystemExit(NOT_OFFERED if shape.code == NotOfferedError.code else REFUSED)


def told_in_one_line(command: Callable[P, R]) -> Callable[P, R]:
    """A command whose refusals are one line, never a trace."""

    @wraps(command)
    def run(*args: P.args, **kwargs: P.kwargs) -> R:
        try:
            return command(*args, **kwargs)
        except (ServiceError, NestingError, CalibrationError) as error:
            fail(error)
        except KeyboardInterrupt:
            raise SystemExit(130) from None
        except BrokenPipeError:
            # Whoever read our output has closed it: nothing is wrong with the answer.
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            raise SystemExit(0) from None

    return run


@app.callback()
def _grainfold() -> None:
    """From drafted pieces to correctly cut cloth. A bare number is mm."""


@app.command()
@told_in_one_line
def serve(
    host: Annotated[str | None, typer.Option(help="address to listen on [127.0.0.1]")] = None,
    port: Annotated[int | None, typer.Option(help="port [8765]; if taken, any free one")] = None,
    data: Annotated[Path | None, typer.Option(help="directory of all that is kept")] = None,
    lan: Annotated[
        bool, typer.Option("--lan", help="let devices of this network in, by a code")
    ] = False,
) -> None:
    """Start the service, print the demo's estimate and the address of the desk."""
    from service.cli_serve import run_serve

    run_serve(host=host, port=port, data=data, lan=lan)


Sources = Annotated[list[Path], typer.Argument(metavar="SOURCE...", show_default=False)]


@app.command()
@told_in_one_line
def estimate(
    source: Sources,
    width: Annotated[str, typer.Option(help="label width: 1500, 150cm or 60in")] = "1500",
    fold: Annotated[
        str, typer.Option(help="open, lengthwise, off-centre, double, crosswise, best")
    ] = "open",
    nap: Annotated[bool, typer.Option("--nap", help="pile or print that runs one way")] = False,
    repeat_along: Annotated[str, typer.Option(help="pattern repeat along")] = "0",
    repeat_across: Annotated[str, typer.Option(help="pattern repeat across")] = "0",
    repeat_even: Annotated[
        bool, typer.Option("--repeat-even", help="the repeat reads the same both ways")
    ] = False,
    shrink_along: Annotated[str, typer.Option(help="share lost in washing, like 3%")] = "0",
    shrink_across: Annotated[str, typer.Option(help="share lost in washing, like 2%")] = "0",
    selvedge: Annotated[str, typer.Option(help="width of each selvedge")] = "12",
    gap: Annotated[str, typer.Option(help="kept between pieces")] = "0",
    copies: Annotated[int, typer.Option(help="garments in one lay")] = 1,
    length: Annotated[str | None, typer.Option(help="a given piece of cloth: does it fit?")] = None,
    far_length: Annotated[
        str | None, typer.Option(help="of that piece along the far selvedge, if its end is slanted")
    ] = None,
    flaw: Annotated[
        list[str] | None,
        typer.Option(help="a flaw, from-to along and across: 80-95cm or 80-95cm,20-30cm"),
    ] = None,
    missing: Annotated[
        list[str] | None, typer.Option(help="a part cut out of the cloth, said the same way")
    ] = None,
    cloth: Annotated[str | None, typer.Option(help="only this cloth, such as shell")] = None,
    step: Annotated[str, typer.Option(help="what the shop sells by: 10cm or 1/8yd")] = "10cm",
    seconds: Annotated[float | None, typer.Option(help="time to search [10]")] = None,
    steps: Annotated[int | None, typer.Option(help="steps to search: repeats exactly")] = None,
    seed: Annotated[int, typer.Option(help="of the search")] = 1,
    workers: Annotated[int, typer.Option(help="processes side by side")] = 2,
    as_json: Annotated[bool, typer.Option("--json", help="print the answer as JSON")] = False,
    out: Annotated[
        Path | None, typer.Option(help="write the lay sheet: plan.svg, .pdf or .dxf")
    ] = None,
    unit: Annotated[str | None, typer.Option(help="unit of a drawing that says none")] = None,
) -> None:
    """How much cloth to buy, and the layout that shows it."""
    from service.cli_estimate import Wanted, run_estimate, spot_of

    wanted = Wanted(
        sources=source,
        cloth={
            "width": width,
            "fold": fold,
            "nap": nap,
            "repeat_along": repeat_along,
            "repeat_across": repeat_across,
            "repeat_even": repeat_even,
            "shrink_along": shrink_along,
            "shrink_across": shrink_across,
            "selvedge": selvedge,
            "available": length,
            "far_length": far_length,
            "flaws": [spot_of(text, "--flaw") for text in flaw or ()],
            "missing": [spot_of(text, "--missing") for text in missing or ()],
            "step": step,
        },
        only=cloth,
        copies=copies,
        gap=gap,
        seconds=seconds,
        steps=steps,
        seed=seed,
        workers=workers,
        as_json=as_json,
        out=out,
        unit=unit,
    )
    run_estimate(wanted)


@app.command()
@told_in_one_line
def check(
    source: Sources,
    as_json: Annotated[bool, typer.Option("--json", help="print the findings as JSON")] = False,
    unit: Annotated[str | None, typer.Option(help="unit of a drawing that says none")] = None,
) -> None:
    """Findings of the pieces; exit 1 if one is refused."""
    from service.cli_check import run_check

    raise SystemExit(run_check(source, as_json=as_json, unit=unit))


@app.command()
@told_in_one_line
def cut(
    source: Sources,
    out: Annotated[Path, typer.Option(help="directory for the drawings")],
    page: Annotated[
        str, typer.Option(help="printer's page for the PDF: A4, Letter, A3, A0")
    ] = "A4",
    unit: Annotated[str | None, typer.Option(help="unit of a drawing that says none")] = None,
) -> None:
    """Cut pieces at true size, as SVG, DXF and PDF."""
    from service.cli_cut import run_cut

    run_cut(source, out=out, page=page, unit=unit)


@app.command("map")
@told_in_one_line
def make_map(
    photo: Annotated[list[Path], typer.Argument(metavar="PHOTO...", show_default=False)],
    board: Annotated[str, typer.Option(help="inner corners of the printed board: 9x6")],
    measured_x: Annotated[str, typer.Option(help="squares:mm along the first count: 8:200.3")],
    measured_y: Annotated[str, typer.Option(help="squares:mm along the second: 5:125.1")],
    canvas: Annotated[str, typer.Option(help="the projector's pixels")] = "1920x1080",
    hole: Annotated[str, typer.Option(help="white place of the lit pattern, or none")] = "8x5",
    fixed_camera: Annotated[
        bool, typer.Option("--fixed-camera", help="the camera stood still between photos")
    ] = False,
    tie: Annotated[
        str | None, typer.Option(help="scale from one long lit line: along-1000:1000.8")
    ] = None,
    ply: Annotated[str | None, typer.Option(help="raise to the cloth: thickness of a ply")] = None,
    plies: Annotated[int, typer.Option(help="plies that lie on each other")] = 1,
    lens_height: Annotated[
        str | None, typer.Option(help="of the projector's lens over the table: 1850")
    ] = None,
    lens_at: Annotated[
        str | None,
        typer.Option(help="under the lens, right:away from the light's near left corner: 600:350"),
    ] = None,
    line: Annotated[
        list[str] | None, typer.Option(help="a lit check line as measured: along-600:600.4")
    ] = None,
    again: Annotated[
        Path | None, typer.Option(help="photo of the board laid down again, the pattern lit")
    ] = None,
    outline: Annotated[
        Path | None, typer.Option(help="with --again: write what to light round it, as PNG")
    ] = None,
    lit: Annotated[
        Path | None, typer.Option(help="with --again: photo of the lit outline; its error in mm")
    ] = None,
) -> None:
    """Table map and its error from photographs, as JSON; tied, raised to the cloth, checked."""
    import json

    from service.map_command import run
    from service.map_follow_up import FollowUp

    told = run(
        photo,
        board=board,
        measured_x=measured_x,
        measured_y=measured_y,
        canvas=canvas,
        hole=hole,
        fixed_camera=fixed_camera,
        then=FollowUp(
            lines=tuple(line or ()),
            tie=tie,
            ply=ply,
            plies=plies,
            lens_height=lens_height,
            lens_at=lens_at,
            again=again,
            outline=outline,
            lit=lit,
        ),
    )
    print(json.dumps(told, indent=2))


def main(arguments: list[str] | None = None) -> None:
    """Entry of the ``grainfold`` command."""
    app(sys.argv[1:] if arguments is None else arguments)
