"use strict";
(function () {
  // Work that goes on: ask how it stands, and when it is over take the new part of the page in.
  const EVERY_MS = 400;

  function watch(working) {
    const bar = working.querySelector("progress");
    const stage = working.querySelector(".stage");
    function ask() {
      fetch(working.dataset.progress).then(function (answer) {
        if (answer.status === 403) { throw new Error("This page was started anew. Open the address that its terminal printed."); }
        return answer.json();
      }).then(function (now) {
        if (!now.busy) { renew(working.dataset.swaps); return; }
        bar.value = now.share;
        const words = now.stage.charAt(0).toUpperCase() + now.stage.slice(1) + " \u2026";
        if (stage.textContent !== words) { stage.textContent = words; }
        window.setTimeout(ask, EVERY_MS);
      }).catch(function (why) {
        stage.textContent = /anew/.test(why.message) ? why.message : "The page does not answer; is it still being served? Trying again \u2026";
        window.setTimeout(ask, 5 * EVERY_MS);
      });
    }
    window.setTimeout(ask, EVERY_MS);
  }

  function renew(id) {
    if (id === "page") { window.location.replace(window.location.pathname); return; }
    fetch(window.location.pathname).then(function (answer) { return answer.text(); }).then(function (text) {
      const fresh = new DOMParser().parseFromString(text, "text/html").getElementById(id);
      const old = document.getElementById(id);
      old.replaceWith(fresh);
      watchAll(fresh);
    });
  }

  function watchAll(within) {
    for (const working of within.querySelectorAll("[data-progress]")) { watch(working); }
  }
  watchAll(document);

  // Where something is to be read first, a reader by keys or by ear starts there.
  const first = document.querySelector(".trouble [data-look-here]");
  if (first) { first.focus(); }

  // Files dropped on a form find their field by the ending of their names; too large a set is not sent.
  function fieldFor(form, name) {
    const ending = name.slice(name.lastIndexOf(".")).toLowerCase();
    if (ending === ".toml" && form.querySelector("[data-role=mapping]")) { return form.querySelector("[data-role=mapping]"); }
    if (ending === ".toml") { return form.querySelector(/boat/i.test(name) ? "[data-role=boat]" : "[data-role=passage]"); }
    for (const role of ["log", "route", "forecast", "polar"]) {
      const field = form.querySelector("[data-role=" + role + "]");
      if (field && field.accept.split(",").includes(ending)) { return field; }
    }
    return null;
  }

  for (const form of document.querySelectorAll("form[data-drop]")) {
    form.addEventListener("dragover", function (event) { event.preventDefault(); form.classList.add("dropping"); });
    form.addEventListener("dragleave", function () { form.classList.remove("dropping"); });
    form.addEventListener("drop", function (event) {
      event.preventDefault();
      form.classList.remove("dropping");
      const given = new Map();
      for (const file of event.dataTransfer.files) {
        const field = fieldFor(form, file.name);
        if (field) {
          if (!given.has(field)) { given.set(field, new DataTransfer()); }
          given.get(field).items.add(file);
        }
      }
      for (const [field, transfer] of given) { field.files = transfer.files; }
    });
  }

  for (const form of document.querySelectorAll("form[data-limit]")) {
    const limit = Number(form.dataset.limit);
    form.addEventListener("submit", function (event) {
      let size = 0;
      for (const field of form.querySelectorAll("input[type=file]")) {
        for (const file of field.files) { size += file.size; }
      }
      const field = form.querySelector("input[type=file]");
      const large = size > limit - 65536;
      field.setCustomValidity(large ? "These files are larger than " + Math.floor(limit / 1048576) + " MB together." : "");
      if (large) { event.preventDefault(); field.reportValidity(); field.setCustomValidity(""); }
    });
  }
})();
