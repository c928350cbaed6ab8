"use strict";
(function () {
  // A reading an hour, by pointer or by keys, on whichever drawing the width of the page shows.
  for (const figure of document.querySelectorAll("figure[data-readings]")) {
    const readings = JSON.parse(document.getElementById(figure.dataset.readings).textContent);
    if (readings.length) { readable(figure, readings); }
  }

  function readable(figure, readings) {
    const line = figure.querySelector(".reading");
    const drawings = Array.from(figure.querySelectorAll("svg[data-x]"), function (svg) {
      return {
        svg: svg,
        x: svg.dataset.x.split(" ").map(Number),
        y: svg.dataset.y.split(" ").map(Number),
        flat: svg.querySelector(".cursor line") !== null, // then across alone is read
      };
    });
    let at = 0;
    line.setAttribute("role", "slider");
    line.setAttribute("aria-label", line.dataset.name);
    line.setAttribute("aria-valuemin", "0");
    line.setAttribute("aria-valuemax", String(readings.length - 1));
    line.setAttribute("aria-valuenow", "0");
    line.setAttribute("aria-valuetext", readings[0]);

    function show(index) {
      at = Math.max(0, Math.min(readings.length - 1, index));
      line.textContent = readings[at];
      line.setAttribute("aria-valuenow", String(at));
      line.setAttribute("aria-valuetext", readings[at]);
      for (const drawing of drawings) {
        const cursor = drawing.svg.querySelector(".cursor");
        const hair = cursor.querySelector("line");
        const dot = cursor.querySelector("circle");
        cursor.classList.add("on");
        if (hair) { hair.setAttribute("x1", drawing.x[at]); hair.setAttribute("x2", drawing.x[at]); }
        dot.setAttribute("cx", drawing.x[at]);
        dot.setAttribute("cy", Number.isNaN(drawing.y[at]) ? -99 : drawing.y[at]);
      }
    }

    function nearest(drawing, event) {
      const box = drawing.svg.getBoundingClientRect();
      const scale = drawing.svg.viewBox.baseVal.width / box.width;
      const x = (event.clientX - box.left) * scale;
      const y = (event.clientY - box.top) * scale;
      let best = 0;
      let least = Infinity;
      for (let i = 0; i < drawing.x.length; i += 1) {
        const off = Math.hypot(drawing.x[i] - x, drawing.flat ? 0 : drawing.y[i] - y);
        if (off < least) { least = off; best = i; }
      }
      return best;
    }

    for (const drawing of drawings) {
      for (const kind of ["pointermove", "pointerdown"]) {
        drawing.svg.addEventListener(kind, function (event) { show(nearest(drawing, event)); });
      }
    }
    const moves = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1, PageUp: 24, PageDown: -24, Home: -Infinity, End: Infinity };
    line.addEventListener("focus", function () { show(at); });
    line.addEventListener("keydown", function (event) {
      if (event.key in moves) { event.preventDefault(); show(at + moves[event.key]); }
    });
  }
})();
