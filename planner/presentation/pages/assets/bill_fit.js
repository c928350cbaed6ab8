"use strict";
(function () {
  // Fit each day of the watch bill to one side of paper, in whatever font the machine has, before it is printed. No
  // page is told its paper, so each sheet is laid out in the area that A4 and US letter share within margins of 9 mm.
  const MM = 96 / 25.4;
  const WIDTH = (279.4 - 18) * MM;
  const HEIGHT = (210 - 18 - 1) * MM; // 1 mm for what a printer's layout rounds otherwise than a screen's
  const STEP_PT = 0.1;
  const SMALLEST_PT = 3;
  // What may be left out, first to last. When to wake the skipper, the ladder, the stop, engine dead and cautions stay.
  const SPARE = [
    ["reasons", "reasons"],
    ["prices", "engine time for each load"],
    ["winds", "wind and tack"],
    ["ranges", "the bank's range"],
  ];
  const cards = document.getElementById("bill-cards");
  const paper = document.getElementById("bill-paper");

  function fits(sheet, steps) {
    const table = sheet.querySelector(".bill");
    sheet.style.setProperty("--type", `${(steps * STEP_PT).toFixed(1)}pt`);
    return sheet.offsetHeight <= HEIGHT && table.offsetWidth <= table.parentElement.clientWidth;
  }

  function enlarge(sheet, from, to) { // from is taken to fit
    let low = from, high = to;
    while (low < high) {
      const middle = Math.ceil((low + high) / 2);
      if (fits(sheet, middle)) { low = middle; } else { high = middle - 1; }
    }
    fits(sheet, low);
  }

  function leaveOut(sheet, count, least, small) {
    const spare = SPARE.slice(0, count);
    const words = [];
    if (count) { words.push(`Left out to fit one side: ${spare.map((each) => each[1]).join(", ")}.`); }
    if (small) { words.push(`The type is smaller than ${least} pt.`); }
    sheet.setAttribute("data-left-out", spare.map((each) => each[0]).join(" "));
    sheet.querySelector(".left-out").textContent = words.join(" ");
  }

  function fit(sheet) {
    const size = (name) => parseFloat(getComputedStyle(sheet).getPropertyValue(name));
    const least = size("--least");
    const [fewest, most] = [least, size("--most")].map((points) => Math.round(points / STEP_PT));
    sheet.style.removeProperty("--table-height");
    sheet.style.width = `${WIDTH}px`;
    let count = 0;
    leaveOut(sheet, count, least, false);
    while (!fits(sheet, fewest) && count < SPARE.length) { leaveOut(sheet, ++count, least, false); }
    if (fits(sheet, fewest)) {
      enlarge(sheet, fewest, most);
    } else {
      leaveOut(sheet, count, least, true);
      enlarge(sheet, Math.round(SMALLEST_PT / STEP_PT), fewest - 1);
    }
    const spareHeight = Math.max(HEIGHT - sheet.offsetHeight, 0);
    sheet.style.setProperty("--table-height", `${sheet.querySelector(".bill").offsetHeight + spareHeight}px`);
    sheet.style.removeProperty("width");
  }

  window.addEventListener("beforeprint", function () {
    const [left, top] = [window.scrollX, window.scrollY];
    const [cardsMedia, paperMedia] = [cards.media, paper.media];
    cards.media = "not all";
    paper.media = "all";
    document.querySelectorAll(".bill-page").forEach(fit);
    cards.media = cardsMedia;
    paper.media = paperMedia;
    window.scrollTo(left, top);
  });
})();
