"""Scenes as DXF files (release 2010): millimetres, closed polylines, one layer for each function.

Only the geometry is written. Colours follow the layers and nothing is filled, so that a cutting
machine meets nothing but lines, and a person can switch layers off.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType

from ezdxf.document import Drawing
from ezdxf.enums import TextEntityAlignment
from ezdxf.filemanagement import new as new_document
from ezdxf.layouts.layout import Modelspace

from nesting.drawing.scene import Circle, Item, Layer, Line, Polygon, Scene, Text
from nesting.files import FileError, whole_file

__all__ = ["LAYER_COLOURS", "dxf_document", "save_audited", "write_dxf", "write_views_dxf"]

RELEASE = "R2010"
MILLIMETRES = 4
METRIC = 1

LAYER_COLOURS: MappingProxyType[Layer, int] = MappingProxyType(
    {
        Layer.FRAME: 8,
        Layer.STOCK: 7,
        Layer.TRIM: 8,
        Layer.FLAWS: 30,
        Layer.REMNANTS: 3,
        Layer.PIECES: 5,
        Layer.CUTS: 1,
        Layer.MARKS: 6,
        Layer.DIMENSIONS: 8,
        Layer.TEXT: 7,
        Layer.CHECK: 2,
    }
)
"""Colour index of each layer."""

VIEW_COLOURS = 7
"""The first colours of the index, taken in turn by the layers of views."""

STYLE, FONT = "NESTING", "arial.ttf"
ALIGNMENTS = {
    "start": TextEntityAlignment.LEFT,
    "middle": TextEntityAlignment.CENTER,
    "end": TextEntityAlignment.RIGHT,
}


def _plain(words: str) -> str:
    """Words without the codes that DXF readers turn into special signs (``%%`` and ``^``)."""
    while "%%" in words:
        words = words.replace("%%", "% %")
    return words.replace("^", "^ ")


def _add(space: Modelspace, item: Item, layer: str) -> None:
    attributes = {"layer": layer}
    match item:
        case Polygon():
            space.add_lwpolyline(item.points, close=True, dxfattribs=attributes)
        case Line():
            if len(item.points) == 2:
                space.add_line(*item.points, dxfattribs=attributes)
            else:
                space.add_lwpolyline(item.points, dxfattribs=attributes)
        case Circle():
            space.add_circle((item.x, item.y), item.radius, dxfattribs=attributes)
        case Text():
            text = space.add_text(
                _plain(item.words),
                height=item.size,
                rotation=item.turn,
                dxfattribs={**attributes, "style": STYLE},
            )
            text.set_placement((item.x, item.y), align=ALIGNMENTS[item.anchor])


def dxf_document(scene: Scene) -> Drawing:
    """The scene as a document in memory."""
    document = _new_document(scene.left, scene.low, scene.left + scene.width, scene.low + scene.height)
    used = {item.layer for item in scene.items}
    for layer, colour in LAYER_COLOURS.items():
        if layer in used:
            document.layers.add(str(layer), color=colour)
    space = document.modelspace()
    for item in scene.items:
        _add(space, item, str(item.layer))
    return document


def _views_document(views: Mapping[str, Scene]) -> Drawing:
    """Several views in one drawing, each on a layer of its own."""
    scenes = views.values()
    document = _new_document(
        min(scene.left for scene in scenes),
        min(scene.low for scene in scenes),
        max(scene.left + scene.width for scene in scenes),
        max(scene.low + scene.height for scene in scenes),
    )
    space = document.modelspace()
    for number, (name, scene) in enumerate(views.items()):
        document.layers.add(name, color=1 + number % VIEW_COLOURS)
        for item in scene.items:
            _add(space, item, name)
    return document


def _new_document(left: float, low: float, right: float, high: float) -> Drawing:
    """An empty drawing in millimetres that will reach so far."""
    document = new_document(RELEASE, setup=False)
    document.header["$INSUNITS"] = MILLIMETRES
    document.header["$MEASUREMENT"] = METRIC
    document.header["$LUNITS"] = 2  # decimal
    document.header["$EXTMIN"] = (left, low, 0.0)
    document.header["$EXTMAX"] = (right, high, 0.0)
    document.styles.add(STYLE, font=FONT)
    return document


def write_dxf(scene: Scene, path: Path) -> None:
    """Write the scene to a DXF file, after the library's own audit has found nothing to mend.

    Raises
    ------
    FileError
        When the audit finds a fault, or the file cannot be written.
    """
    save_audited(dxf_document(scene), path)


def write_views_dxf(views: Mapping[str, Scene], path: Path) -> None:
    """Write several views to one DXF file, each on the layer of its name; else as `write_dxf`.

    Raises
    ------
    FileError
        When the audit finds a fault, or the file cannot be written.
    """
    save_audited(_views_document(views), path)


def save_audited(document: Drawing, path: Path) -> None:
    """Write a document whole, after the library's own audit has found nothing to mend.

    Raises
    ------
    FileError
        When the audit finds a fault, or the file cannot be written.
    """
    audit = document.audit()
    if audit.errors or audit.fixes:
        found = "; ".join(str(entry.message) for entry in [*audit.errors, *audit.fixes][:3])
        raise FileError(
            f"{path}: not written, the drawing does not pass its check ({found}). Report this plan."
        )
    with whole_file(path) as part:
        document.saveas(part)
