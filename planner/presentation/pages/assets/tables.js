"use strict";
(function () {
  // Say of a table that it goes on beyond the edge.
  const tables = document.querySelectorAll(".scroll");
  function mark() {
    for (const part of tables) { part.toggleAttribute("data-cut", part.scrollWidth > part.clientWidth + 1); }
  }
  window.addEventListener("resize", mark);
  document.addEventListener("toggle", mark, true);
  mark();
})();
