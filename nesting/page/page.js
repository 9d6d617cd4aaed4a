"use strict";

// Tables: a click on a heading sorts, another turns the order round; a box narrows the rows.
for (const table of document.querySelectorAll("table.sorts")) {
  const body = table.tBodies[0];
  const first = [...body.rows];
  table.querySelectorAll("thead th").forEach((heading, column) => {
    const button = document.createElement("button");
    button.type = "button";
    button.append(...heading.childNodes);
    heading.append(button);
    button.addEventListener("click", () => {
      const before = heading.getAttribute("aria-sort");
      const way = before === "ascending" ? -1 : 1;
      table.querySelectorAll("th[aria-sort]").forEach((other) => other.removeAttribute("aria-sort"));
      heading.setAttribute("aria-sort", way === 1 ? "ascending" : "descending");
      const value = (row) => {
        const cell = row.cells[column];
        return cell.dataset.value === undefined ? cell.textContent.trim() : Number(cell.dataset.value);
      };
      const compared = (a, b) =>
        typeof a === "number" && typeof b === "number"
          ? a - b
          : String(a).localeCompare(String(b), undefined, { numeric: true });
      first
        .map((row) => [value(row), row])
        .sort((a, b) => way * compared(a[0], b[0]))
        .forEach(([, row]) => body.append(row));
    });
  });
}
for (const box of document.querySelectorAll("input[data-narrows]")) {
  const rows = [...document.getElementById(box.dataset.narrows).tBodies[0].rows];
  const told = document.getElementById(`${box.dataset.narrows}-count`);
  const narrow = () => {
    const words = box.value.toLowerCase().split(/\s+/).filter(Boolean);
    let shown = 0;
    for (const row of rows) {
      const text = row.textContent.toLowerCase();
      row.hidden = !words.every((word) => text.includes(word));
      shown += row.hidden ? 0 : 1;
    }
    told.textContent = `${shown} of ${rows.length} rows`;
  };
  box.addEventListener("input", narrow);
  narrow();
}

// Where the material goes: one picture for each material.
const chooser = document.getElementById("losses-of");
if (chooser) {
  const pictures = [...document.querySelectorAll("figure[data-material]")];
  const show = () => pictures.forEach((one) => { one.hidden = one.dataset.material !== chooser.value; });
  chooser.addEventListener("change", show);
  show();
}

// Cut maps: packed in the page, unpacked when they are looked at.
const store = document.getElementById("map-store");
if (store) {
  const pages = JSON.parse(store.textContent);
  const frame = document.getElementById("map");
  const image = frame.querySelector("img");
  const materials = document.getElementById("map-material");
  const list = document.getElementById("map-page");
  const state = { at: 0, scale: 1, x: 0, y: 0, url: "" };

  const place = () => {
    image.style.transform = `translate(${state.x}px, ${state.y}px) scale(${state.scale})`;
  };
  const size = () => [pages[state.at].width, pages[state.at].height];
  const whole = () => {
    const [width, height] = size();
    state.scale = Math.min(frame.clientWidth / width, frame.clientHeight / height);
    state.x = (frame.clientWidth - width * state.scale) / 2;
    state.y = (frame.clientHeight - height * state.scale) / 2;
    place();
  };
  const zoom = (factor, x = frame.clientWidth / 2, y = frame.clientHeight / 2) => {
    const scale = Math.min(12, Math.max(0.1, state.scale * factor));
    state.x = x - ((x - state.x) * scale) / state.scale;
    state.y = y - ((y - state.y) * scale) / state.scale;
    state.scale = scale;
    place();
  };
  const unpacked = async (text) => {
    const bytes = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
    const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"));
    return new Response(stream).text();
  };
  const open = async (at) => {
    state.at = at;
    const page = pages[at];
    materials.value = page.material;
    fill();
    list.value = String(at);
    const svg = await unpacked(page.svg);
    if (state.at !== at) return;
    URL.revokeObjectURL(state.url);
    state.url = URL.createObjectURL(new Blob([svg], { type: "image/svg+xml" }));
    [image.width, image.height] = size();
    image.alt = page.title;
    image.src = state.url;
    whole();
    document.getElementById("map-count").textContent = `page ${at + 1} of ${pages.length}`;
  };
  const fill = () => {
    list.replaceChildren(
      ...pages.flatMap((page, at) =>
        page.material === materials.value ? [new Option(page.title, String(at))] : [],
      ),
    );
  };
  materials.addEventListener("change", () => open(pages.findIndex((page) => page.material === materials.value)));
  list.addEventListener("change", () => open(Number(list.value)));
  const turn = (by) => open((state.at + by + pages.length) % pages.length);
  const tools = { back: () => turn(-1), on: () => turn(1), in: () => zoom(1.4), out: () => zoom(1 / 1.4), whole };
  for (const button of document.querySelectorAll("button[data-map]")) {
    button.addEventListener("click", () => tools[button.dataset.map]());
  }
  frame.addEventListener("wheel", (event) => {
    event.preventDefault();
    const box = frame.getBoundingClientRect();
    zoom(event.deltaY < 0 ? 1.2 : 1 / 1.2, event.clientX - box.left, event.clientY - box.top);
  }, { passive: false });
  frame.addEventListener("pointerdown", (event) => {
    frame.setPointerCapture(event.pointerId);
    frame.classList.add("held");
    const from = [event.clientX - state.x, event.clientY - state.y];
    const move = (moved) => {
      [state.x, state.y] = [moved.clientX - from[0], moved.clientY - from[1]];
      place();
    };
    const release = () => {
      frame.classList.remove("held");
      frame.removeEventListener("pointermove", move);
    };
    frame.addEventListener("pointermove", move);
    frame.addEventListener("pointerup", release, { once: true });
    frame.addEventListener("pointercancel", release, { once: true });
  });
  frame.addEventListener("keydown", (event) => {
    const steps = { ArrowLeft: [60, 0], ArrowRight: [-60, 0], ArrowUp: [0, 60], ArrowDown: [0, -60] };
    const keys = { "+": tools.in, "-": tools.out, 0: whole, PageUp: tools.back, PageDown: tools.on };
    if (steps[event.key]) {
      state.x += steps[event.key][0];
      state.y += steps[event.key][1];
      place();
    } else if (keys[event.key]) keys[event.key]();
    else return;
    event.preventDefault();
  });
  window.addEventListener("resize", whole);
  document.getElementById("maps").hidden = false;
  open(0);
}
