"use strict";
(function () {
  // Red light for the watch; kept where the browser lets a page keep anything.
  const root = document.documentElement;
  const button = document.getElementById("red-light");
  function light(on) {
    root.toggleAttribute("data-red", on);
    button.setAttribute("aria-pressed", String(on));
    try { localStorage.setItem("red-light", on ? "1" : "0"); } catch (refused) { /* then it lasts as long as the page */ }
  }
  let kept = null;
  try { kept = localStorage.getItem("red-light"); } catch (refused) { /* as above */ }
  light(kept === "1");
  button.addEventListener("click", function () { light(!root.hasAttribute("data-red")); });
})();
