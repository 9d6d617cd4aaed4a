"""Tables that go on in the next box."""

from __future__ import annotations

from nesting.drawing.scene import Polygon, Text, piece_style
from nesting.drawing.sketch import Box, Sketch
from nesting.drawing.tables import Column, Row, Table, draw_tables, table_height, table_width

TABLE = Table(
    "Pieces",
    (Column("No.", "end"), Column("Panel", gives_way=True)),
    tuple(Row((str(i), f"Panel {i}")) for i in range(10)),
)


def test_rows_without_room_are_handed_back() -> None:
    """Two boxes of 3 rows each leave 4 of 10 rows; the title is over the first box only."""
    sketch = Sketch()
    height = table_height(3, 2.0)
    boxes = [Box(0, 0, 60, height), Box(70, 0, 130, height)]
    (rest,) = draw_tables(sketch, [TABLE], boxes, 2.0)
    assert [row.cells[0] for row in rest.rows] == ["6", "7", "8", "9"]
    words = [item.words for item in sketch.items if isinstance(item, Text)]
    assert words.count("Pieces") == 1
    assert words.count("No.") == 2


def test_columns_that_give_way_are_shortened() -> None:
    """The number stays whole, the long name ends in an ellipsis."""
    table = Table("T", TABLE.columns, (Row(("123", "a very long name of a panel indeed")),))
    sketch = Sketch()
    draw_tables(sketch, [table], [Box(0, 0, 40, 40)], 2.0)
    words = [item.words for item in sketch.items if isinstance(item, Text)]
    assert "123" in words
    assert any(word.endswith("…") for word in words)
    assert table_width(table, 2.0) > 40


def test_samples_take_the_style_of_the_piece() -> None:
    """A row with a sample draws one small rectangle."""
    sketch = Sketch()
    row = Row(("1", "Top"), piece_style(2))
    draw_tables(sketch, [Table("T", TABLE.columns, (row,))], [Box(0, 0, 60, 40)], 2.0)
    (sample,) = [item for item in sketch.items if isinstance(item, Polygon)]
    assert sample.style is not None
    assert sample.style.fill == piece_style(2).fill
