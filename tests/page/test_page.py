"""The page of a plan: it loads nothing, its figures are the plan's, and a browser is clicked through it."""

from __future__ import annotations

import base64
import csv
import gzip
import io
import json
import math
import re
import shutil
import subprocess
from html.parser import HTMLParser
from pathlib import Path

import pytest

from nesting.catalogue import load_range
from nesting.files import FileError
from nesting.model import Plan
from nesting.orders import load_orders
from nesting.output import patterns_folder
from nesting.page import page_text, write_page
from nesting.page.waterfall import steps
from nesting.planning import Budget, make_plan

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")


@pytest.fixture(scope="module")
def plan() -> Plan:
    folder = patterns_folder()
    range_ = load_range(folder / "demo-range.toml")
    book = load_orders(folder / "demo-orders.csv", range_)
    materials = ["spunbond", "waxed-board", "edge-foam"]
    return make_plan(range_, book, materials=materials, budget=Budget(effort=1.0))


@pytest.fixture(scope="module")
def page(plan: Plan) -> str:
    return page_text(plan)


class Reader(HTMLParser):
    """Collects tags, what elements refer to, and the cells of each table."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.links: list[str] = []
        self.tables: dict[str, list[list[str]]] = {}
        self._table: str | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        values = dict(attrs)
        self.links += [value for name, value in attrs if name in ("src", "href") and value]
        if tag not in ("meta", "img", "input", "link", "br", "rect", "path", "circle"):
            self.open.append(tag)
        if tag == "table":
            self._table = values["id"]
            self.tables[str(self._table)] = []
        elif tag == "tr" and self._table:
            self.tables[self._table].append([])
        elif tag in ("td", "th") and self._table:
            self.tables[self._table][-1].append("")

    def handle_endtag(self, tag: str) -> None:
        if self.open and tag == self.open[-1]:
            self.open.pop()
        if tag == "table":
            self._table = None

    def handle_data(self, data: str) -> None:
        if self._table and self.open and self.open[-1] in ("td", "th"):
            self.tables[self._table][-1][-1] += data


def test_the_page_loads_nothing_and_is_whole(page: str) -> None:
    reader = Reader()
    reader.feed(page)
    assert reader.open == [], "an element is not closed"
    assert all(link.startswith("data:") for link in reader.links)
    without_names = re.sub(r'xmlns(:\w+)?="[^"]*"', "", page)
    assert "http://" not in without_names and "https://" not in without_names
    assert "default-src 'none'" in page


def test_tables_hold_the_figures_of_the_plan(plan: Plan, page: str) -> None:
    reader = Reader()
    reader.feed(page)
    head, *rows = reader.tables["materials"]
    assert [row[0] for row in rows] == [part.material.name for part in plan.materials] + ["All materials"]
    cost = head.index(f"Cost {plan.currency}")
    total = sum(float(row[cost].replace(",", "")) for row in rows[:-1])
    assert math.isclose(float(rows[-1][cost].replace(",", "")), total, abs_tol=0.02)
    assert len(reader.tables["pieces"]) - 1 == sum(len(part.demands) for part in plan.materials)


def test_saved_tables_are_the_same_figures(plan: Plan, page: str) -> None:
    saved = re.search(r'download="losses[^"]*" href="data:text/csv;charset=utf-8;base64,([^"]*)"', page)
    assert saved
    rows = list(csv.DictReader(io.StringIO(base64.b64decode(saved[1]).decode("utf-8-sig"))))
    for part in plan.materials:
        shares = [
            float(row["Share of material taken"]) for row in rows if row["Material"] == part.material.name
        ]
        assert math.isclose(sum(shares), 100.0, abs_tol=0.01)


def test_the_picture_of_losses_comes_down_to_the_pieces(plan: Plan) -> None:
    """Every bar begins where the one before it ends; the last but one ends where the pieces are."""
    for part in plan.materials:
        made = steps(part.figures)
        level = part.figures.consumed
        for _, amount, before, _ in made[1:-1]:
            level -= amount
            assert math.isclose(before, level, abs_tol=1e-9)
        assert math.isclose(level, part.figures.pieces, rel_tol=1e-6)


def test_maps_are_packed_in_the_page(plan: Plan, page: str) -> None:
    found = re.search(r'id="map-store">(.*?)</script>', page, re.DOTALL)
    assert found
    pages = json.loads(found[1])
    assert {one["material"] for one in pages} == {part.material.name for part in plan.materials}
    for one in pages:
        assert gzip.decompress(base64.b64decode(one["svg"])).startswith(b"<svg")
        assert plan.range_name not in one["title"]


def test_the_same_plan_gives_the_same_page(plan: Plan, page: str) -> None:
    assert page_text(plan) == page


def test_names_from_files_cannot_break_out(plan: Plan) -> None:
    """A range may be called anything; nothing of it becomes markup or script."""
    from dataclasses import replace

    hostile = '</script><script>alert(1)</script><img src=x onerror=alert(1)> "$title"'
    first = plan.materials[0]
    part = replace(first, material=replace(first.material, name=hostile))
    text = page_text(replace(plan, range_name=hostile, materials=(part,)))
    assert "<script>alert" not in text and "<img src=x" not in text
    assert text.count("</script>") == page_text(plan).count("</script>")


def test_an_unwritable_place_is_told(plan: Plan, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(FileError):
        write_page(plan, tmp_path / "file" / "page.html")


CLICKS = """
<script>
window.addEventListener("load", async () => {
  const told = {};
  const wait = (ms) => new Promise((done) => setTimeout(done, ms));
  try {
    await wait(600);
    const column = (key, at) => [...document.getElementById(key).tBodies[0].rows]
      .filter((row) => !row.hidden).map((row) => row.cells[at].textContent);
    const heading = document.querySelectorAll("#pieces thead th")[5];
    heading.querySelector("button").click();
    told.rising = column("pieces", 5).map(Number);
    heading.querySelector("button").click();
    told.falling = column("pieces", 5).map(Number);
    const box = document.querySelector("input[data-narrows]");
    box.value = "corner";
    box.dispatchEvent(new Event("input"));
    told.narrowed = column("pieces", 2);
    const image = document.querySelector("#map img");
    told.first = [image.alt, image.complete && image.naturalWidth > 0];
    document.querySelector('button[data-map="on"]').click();
    await wait(400);
    told.second = [image.alt, image.complete && image.naturalWidth > 0];
    const before = image.style.transform;
    document.querySelector('button[data-map="in"]').click();
    told.zoomed = before !== image.style.transform;
    const chooser = document.getElementById("losses-of");
    chooser.selectedIndex = 1;
    chooser.dispatchEvent(new Event("change"));
    told.pictures = [...document.querySelectorAll("figure")].filter((one) => !one.hidden)
      .map((one) => one.dataset.material);
  } catch (error) { told.error = String(error); }
  const out = document.createElement("pre");
  out.id = "told";
  out.textContent = JSON.stringify(told);
  document.body.append(out);
});
</script>
"""


@pytest.mark.skipif(CHROMIUM is None, reason="needs the browser Chromium, which is not installed here")
def test_a_browser_sorts_narrows_and_zooms(plan: Plan, page: str, tmp_path: Path) -> None:
    """Clicked through in headless Chromium: sorting, narrowing rows, turning pages, zooming, choosing."""
    assert CHROMIUM
    file = tmp_path / "page.html"
    file.write_text(page.replace("</body>", CLICKS + "</body>"), encoding="utf-8")
    command = [
        CHROMIUM,
        "--headless",
        "--no-sandbox",
        "--disable-gpu",
        f"--user-data-dir={tmp_path / 'user'}",
    ]
    done = subprocess.run(
        [*command, "--virtual-time-budget=8000", "--dump-dom", file.as_uri()],
        capture_output=True,
        timeout=120,
        check=True,
    )
    found = re.search(r'<pre id="told">(.*?)</pre>', done.stdout.decode(), re.DOTALL)
    assert found, done.stderr.decode()[-500:]
    told = json.loads(found[1].replace("&lt;", "<").replace("&gt;", ">").replace("&amp;", "&"))
    assert "error" not in told, told
    assert told["rising"] == sorted(told["rising"]) and len(set(told["rising"])) > 1
    assert told["falling"] == sorted(told["falling"], reverse=True)
    assert told["narrowed"] and all("corner" in name.lower() for name in told["narrowed"])
    assert told["first"][1] and told["second"][1] and told["first"][0] != told["second"][0]
    assert told["zoomed"]
    assert told["pictures"] == [plan.materials[1].material.name]
