"""Drawings and lists for the cutting room: what the plan says, as people and machines need to see it.

One front end, several back ends: `map_pages`, `panel_sheet` and `machine_scene` turn plan objects
into scenes, and `svg`, `pdf` and `dxf` write any scene. The back ends load large libraries, so they
are imported where they are used and not here.
"""

from nesting.drawing.cutlist import CutRow, cut_list_rows, write_cut_list
from nesting.drawing.machine import machine_scene
from nesting.drawing.maps import map_pages
from nesting.drawing.output import draw_panels, draw_plan
from nesting.drawing.panel_sheet import panel_sheet
from nesting.drawing.paper import DrawingError
from nesting.drawing.scene import Scene
from nesting.files import FileError, safe_names, whole_file

__all__ = [
    "CutRow",
    "DrawingError",
    "FileError",
    "Scene",
    "cut_list_rows",
    "draw_panels",
    "draw_plan",
    "machine_scene",
    "map_pages",
    "panel_sheet",
    "safe_names",
    "whole_file",
    "write_cut_list",
]
