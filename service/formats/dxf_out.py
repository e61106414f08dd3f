"""DXF out: a plain cutting file (R2010, mm, named layers); no claim to any pattern exchange standard."""

from __future__ import annotations

import io

from ezdxf.enums import TextEntityAlignment
from ezdxf.filemanagement import new
from ezdxf.layouts.layout import Modelspace

from service.formats.paper import Anchor, Ink, Paper, Stroke, Words

MM = 4
"""$INSUNITS of the DXF reference: millimetres."""

_LAYERS: dict[Ink, tuple[str, str]] = {
    Ink.CUT: ("CUT", "CONTINUOUS"),
    Ink.NET: ("NET", "DASHED"),
    Ink.FOLD: ("FOLD", "DASHDOT"),
    Ink.GRAIN: ("GRAIN", "CONTINUOUS"),
    Ink.NOTCH: ("NOTCH", "CONTINUOUS"),
    Ink.MARK: ("MARK", "DOT"),
    Ink.SELVEDGE: ("SELVEDGE", "CONTINUOUS"),
    Ink.ZONE: ("ZONE", "DOT"),
    Ink.RULER: ("NOTE", "CONTINUOUS"),
    Ink.HATCH: ("NOTE", "CONTINUOUS"),
}
TEXT_LAYER = "TEXT"
NOTE_LAYER = "NOTE"
POINT_LAYERS = ("DRILL", "BUTTON", "BUTTONHOLE")
_ALIGN = {
    Anchor.START: TextEntityAlignment.LEFT,
    Anchor.MIDDLE: TextEntityAlignment.CENTER,
    Anchor.END: TextEntityAlignment.RIGHT,
}


def paper_dxf(paper: Paper) -> bytes:
    """A paper at true size as a DXF drawing: polylines in mm on layers CUT, NET, FOLD, GRAIN,
    NOTCH, DRILL, BUTTON, BUTTONHOLE, MARK, SELVEDGE, ZONE, NOTE and texts on TEXT. Only what is on
    CUT is to be cut."""
    document = new("R2010", setup=["linetypes"])
    document.header["$INSUNITS"] = MM
    document.header["$MEASUREMENT"] = 1
    for name, linetype in dict(_LAYERS.values()).items():
        document.layers.add(name, linetype=linetype)
    for name in (TEXT_LAYER, *POINT_LAYERS):
        document.layers.add(name)
    space = document.modelspace()
    for block in paper.blocks:
        for item in block.items:
            if isinstance(item, Stroke):
                space.add_lwpolyline(
                    [(float(x), float(y)) for x, y in item.points],
                    close=item.closed,
                    dxfattribs={"layer": _layer(item)},
                )
            else:
                _add_text(space, item)
    out = io.StringIO()
    document.write(out)
    return out.getvalue().encode(document.output_encoding, errors="replace")


def _layer(stroke: Stroke) -> str:
    if stroke.label == "ignore":
        return NOTE_LAYER
    word = stroke.label.partition(" ")[0].upper()
    return word if word in POINT_LAYERS else _LAYERS[stroke.ink][0]


def _add_text(space: Modelspace, words: Words) -> None:
    text = space.add_text(
        " ".join(words.text.split()),
        height=0.7 * words.size,
        rotation=words.turn_deg,
        dxfattribs={"layer": TEXT_LAYER},
    )
    text.set_placement((words.x, words.y), align=_ALIGN[words.anchor])
