"use strict";
(function () {
  const root = document.documentElement;

  document.getElementById("print-bill").addEventListener("click", function () { window.print(); });
  document.getElementById("print-all").addEventListener("click", function () {
    root.setAttribute("data-print", "all");
    window.addEventListener("afterprint", function () { root.removeAttribute("data-print"); }, { once: true });
    window.print();
  });
})();
