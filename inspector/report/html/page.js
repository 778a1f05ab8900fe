"use strict";
// One cursor for all plots of a sequence. It shows values from the table of all frames, so that the page has no second copy.
const WIDTH = 640; // width of a plot, in units of the drawing, as in plots.py

function start(section) {
  const rows = [...section.querySelectorAll("tbody tr")];
  const places = rows.map((row) => Number(row.dataset.x));
  const bar = section.querySelector(".cursor-bar");
  const slider = bar.querySelector("input");
  const readout = bar.querySelector(".readout");
  const plots = [...section.querySelectorAll("figure[data-cell]")];

  function show(at) {
    const cells = rows[at].cells;
    const said = [`frame ${cells[0].textContent}`, cells[1].textContent];
    for (const plot of plots) {
      const cell = cells[plot.dataset.cell];
      plot.querySelector(".value").textContent = cell.textContent;
      said.push(`${rows[at].closest("table").rows[0].cells[plot.dataset.cell].textContent} ${cell.textContent}`);
      const line = plot.querySelector(".cursor");
      line.setAttribute("x1", places[at]);
      line.setAttribute("x2", places[at]);
    }
    const found = cells[cells.length - 1];
    said.push(found.textContent || "nothing found");
    slider.value = at;
    slider.setAttribute("aria-valuetext", said.join(", "));
    const links = [...found.childNodes].map((node) => node.cloneNode(true));
    readout.replaceChildren(`frame ${cells[0].textContent}, ${cells[1].textContent}: `, ...links);
    if (!links.length) readout.append("nothing found");
  }

  function nearest(x) {
    let best = 0;
    places.forEach((place, at) => {
      if (Math.abs(place - x) < Math.abs(places[best] - x)) best = at;
    });
    return best;
  }

  for (const plot of plots) {
    const drawing = plot.querySelector("svg");
    const point = (event) => {
      const box = drawing.getBoundingClientRect();
      show(nearest(((event.clientX - box.left) / box.width) * WIDTH));
    };
    drawing.addEventListener("pointermove", point);
    drawing.addEventListener("pointerdown", point);
  }
  for (const letter of section.closest("section").querySelectorAll(".overview a")) {
    letter.addEventListener("click", () => show(Number(letter.dataset.row)));
  }
  slider.addEventListener("input", () => show(Number(slider.value)));
  bar.hidden = false;
  show(0);
}

document.querySelectorAll("[data-frames]").forEach(start);
